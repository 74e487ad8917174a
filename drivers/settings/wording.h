// The words of messages about settings: units, numbers, quoted values, the nearest key.
#pragma once

#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <string_view>

#include "drivers/settings/node.h"

namespace lapwright::settings {

/// Bytes of the UTF-8 character at the beginning of a text that is not empty (RFC 3629); 0 where none stands there.
[[nodiscard]] std::size_t character_size(std::string_view text);
/// The first so many bytes, or a little fewer: no UTF-8 character is cut in two.
[[nodiscard]] std::string_view beginning(std::string_view text, std::size_t bytes);
/// As one line of valid UTF-8, whatever a file or its name holds: control characters become \u000a, bytes that are no
/// UTF-8 \xC3. Nothing else is changed, so doing it twice does no harm.
[[nodiscard]] std::string one_line(std::string_view text);
/// In double quotes, control characters escaped, cut after 60 bytes.
[[nodiscard]] std::string in_quotes(std::string_view text);
/// The shortest decimal text that reads back as the same value.
[[nodiscard]] std::string plain(double value);
/// A value as it stands in the file: `-3`, `"loop"`, `a list`, `an object`.
[[nodiscard]] std::string shown(const Node& node);
/// The unit in a key's last words: `position_mm` → `mm`, `speed_mm_s` → `mm/s`, `name` → empty.
[[nodiscard]] std::string unit_of(std::string_view key);
/// "0 … 100000 mm", "at least 5 s", "at most 3"; empty for bounds that allow everything.
[[nodiscard]] std::string range_text(double min, double max, std::string_view unit);
/// A key as a step of a JSON pointer (RFC 6901: ~ and / are escaped).
[[nodiscard]] std::string pointer_step(std::string_view key);
/// Insertions, deletions, substitutions and swaps of neighbours that turn one word into the other.
[[nodiscard]] int edit_distance(std::string_view from, std::string_view to);
/// The known word that was probably meant: the nearest one, if less than half of it must change.
[[nodiscard]] std::optional<std::string> nearest(std::string_view word,
                                                 const std::set<std::string, std::less<>>& known);

}  // namespace lapwright::settings
