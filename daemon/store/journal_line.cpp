#include "daemon/store/journal_line.h"

#include <spdlog/fmt/fmt.h>

#include <boost/crc.hpp>

namespace lapwright {
namespace {

constexpr std::string_view before_crc = ",\"crc\":\"";
constexpr std::size_t crc_digits = 8;
constexpr std::string_view after_crc = "\"}";

}  // namespace

std::uint32_t crc32c(std::string_view bytes) {
  boost::crc_optimal<32, 0x1EDC6F41, 0xFFFFFFFF, 0xFFFFFFFF, true, true> sum;
  sum.process_bytes(bytes.data(), bytes.size());
  return sum.checksum();
}

std::string journal_line(const Record& record) {
  std::string text = record.dump(-1, ' ', false, Record::error_handler_t::replace);
  text.pop_back();  // the closing brace comes after the CRC
  const std::uint32_t sum = crc32c(text);
  return fmt::format("{}{}{:08x}{}\n", text, before_crc, sum, after_crc);
}

std::optional<Record> read_journal_line(std::string_view line) {
  const std::size_t tail = before_crc.size() + crc_digits + after_crc.size();
  if (line.size() <= tail) return std::nullopt;
  const std::string_view text = line.substr(0, line.size() - tail);
  const std::string_view expected = line.substr(line.size() - tail);
  if (expected != fmt::format("{}{:08x}{}", before_crc, crc32c(text), after_crc)) return std::nullopt;
  Record record = Record::parse(std::string(text) + "}", nullptr, false);
  if (!record.is_object()) return std::nullopt;
  return record;
}

}  // namespace lapwright
