// One record of the journal as a line of text: a JSON object whose last member is the CRC-32C of what stands before it.
#pragma once

#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>

namespace lapwright {

using Record = nlohmann::ordered_json;

/// CRC-32C (Castagnoli), as in RFC 3720: of "123456789" it is E3069283.
[[nodiscard]] std::uint32_t crc32c(std::string_view bytes);

/// `{…,"crc":"e3069283"}` and a newline. @param record  a JSON object with at least one member
[[nodiscard]] std::string journal_line(const Record& record);

/// The record without its CRC; empty where the line is not whole. @param line  without its newline
[[nodiscard]] std::optional<Record> read_journal_line(std::string_view line);

}  // namespace lapwright
