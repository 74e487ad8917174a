// One recording as it lies in cases/: the traffic, what was asked of the drivers meanwhile, and what must come of it.
#pragma once

#include <filesystem>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "drivers/lcc/lcc_station.h"
#include "drivers/trackside/board.h"

namespace lapwright::recordings {

/// A line of `--record FILE` (drivers/links/traffic_log.h).
struct Traffic {
  Instant at;
  std::string link;  ///< "station" or "board"
  char mark = '?';   ///< < came, > went, + opened, - lost
  std::string bytes;
};

/// `2.000 take 3 short`, taken apart.
struct Ask {
  Instant at;
  std::vector<std::string> words;
  [[nodiscard]] std::string text() const;
};

struct Case {
  std::string name;
  std::vector<std::string> about;  ///< comment lines at the head of asked.txt: what it shows, and where it comes from
  std::optional<lcc::StationSettings> station;
  std::vector<lcc::GateEvents> gate_events;
  std::optional<trackside::BoardWish> board;
  /// Of a true recording: the drivers must send what it says they sent, no more than so long before or after.
  std::optional<Duration> sends_within;
  std::string ends;  ///< what was recorded and can be again: "firmware", "simulated"; empty: written or cut by hand
  std::map<std::string, std::string> ends_settings;
  std::vector<Ask> asks;
  std::vector<Traffic> traffic;
  Instant end;
};

/// The folders of cases/, in order.
[[nodiscard]] std::vector<std::string> case_names();
[[nodiscard]] std::filesystem::path case_folder(const std::string& name);
/// @throws std::runtime_error  with file and line
[[nodiscard]] Case read_case(const std::string& name);
/// The two texts apart, for tests of the reading itself.
void read_asked(const std::string& text, Case& into);
[[nodiscard]] std::vector<Traffic> read_traffic(const std::string& text);
/// The whole file; empty if there is none.
[[nodiscard]] std::string file_text(const std::filesystem::path& file);

}  // namespace lapwright::recordings
