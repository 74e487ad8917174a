// What can be done with an engine on the track.
#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string_view>
#include <utility>

namespace lapwright {

enum class Work : std::uint8_t {
  tune,       ///< measure, rewrite the table, prove every step
  check,      ///< measure a spread of steps and compare, without writing
  check_all,  ///< the same with every step
  restore,    ///< put a decoder back after a reset, and prove a spread of steps
  undo,       ///< put back what the decoder held before the latest work
};

inline constexpr std::array<std::pair<Work, std::string_view>, 5> works = {{{Work::tune, "tune"},
                                                                            {Work::check, "check"},
                                                                            {Work::check_all, "check-all"},
                                                                            {Work::restore, "restore"},
                                                                            {Work::undo, "undo"}}};

/// It writes nothing.
[[nodiscard]] constexpr bool only_measures(Work work) { return work == Work::check || work == Work::check_all; }

[[nodiscard]] constexpr std::string_view code(Work work) { return works[static_cast<std::size_t>(work)].second; }

[[nodiscard]] constexpr std::optional<Work> read_work(std::string_view word) {
  for (const auto& [work, name] : works) {
    if (name == word) return work;
  }
  return std::nullopt;
}

}  // namespace lapwright
