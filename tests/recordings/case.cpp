#include "tests/recordings/case.h"

#include <algorithm>
#include <cmath>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "drivers/links/traffic_log.h"

namespace lapwright::recordings {
namespace fs = std::filesystem;
namespace {

using Words = std::vector<std::string>;

Words words_of(const std::string& line) {
  std::istringstream stream(line);
  Words words;
  for (std::string word; stream >> word;) words.push_back(word);
  return words;
}

Instant instant_of(const std::string& word) {
  std::size_t used = 0;
  const double value_s = std::stod(word, &used);
  if (used != word.size() || value_s < 0) throw std::invalid_argument(word + " is no time");
  return Instant{} + std::chrono::duration_cast<Duration>(std::chrono::microseconds(std::llround(value_s * 1e6)));
}

std::string joined(const Words& words, std::size_t from) {
  std::string text;
  for (std::size_t at = from; at < words.size(); ++at) text += (at > from ? " " : "") + words[at];
  return text;
}

bool yes(const std::string& word) {
  if (word != "yes" && word != "no") throw std::invalid_argument("'" + word + "' is neither yes nor no");
  return word == "yes";
}

lcc::EventId event_of(const std::string& word) {
  const auto event = lcc::EventId::parse(word);
  if (!event) throw std::invalid_argument(word + " is no event ID");
  return *event;
}

/// The node of the worked frames in reference/lcc.md 9; its first alias is DD8.
lcc::StationSettings usual_station() {
  lcc::StationSettings station;
  station.node.id = lcc::NodeId::parse("02.01.0D.4C.43.01").value();
  station.packet_steps = 128;
  station.silence = Duration{};  // a recording answers what was asked when it was made; its case may say otherwise
  return station;
}

/// with station [KEY VALUE…]
void set_station(const Words& words, Case& into) {
  if (!into.station) into.station = usual_station();
  if (words.size() == 2) return;
  const std::string& key = words[2];
  lcc::StationSettings& station = *into.station;
  if (key == "packet_steps") {
    station.packet_steps = std::stoi(words.at(3));
  } else if (key == "node") {
    station.node.id = lcc::NodeId::parse(words.at(3)).value();
  } else if (key == "reply_confirms") {
    station.cvs.reply_confirms = yes(words.at(3));
  } else if (key == "unconfirmed_is_sent") {
    station.cvs.unconfirmed_is_sent = yes(words.at(3));
  } else if (key == "cv_reply_s") {
    station.cvs.reply_within = seconds(std::stod(words.at(3)));
  } else if (key == "silence_s") {
    station.silence = seconds(std::stod(words.at(3)));
  } else if (key == "gate") {
    into.gate_events.push_back({event_of(words.at(3)), event_of(words.at(4))});
    station.node.consumed = lcc::EventGates::all(into.gate_events);
  } else {
    throw std::invalid_argument("a station has no setting " + key);
  }
}

/// with board [KEY VALUE…]
void set_board(const Words& words, Case& into) {
  if (!into.board) into.board = trackside::BoardWish{"QT-0001", {}, {1, 2}};
  if (words.size() == 2) return;
  const std::string& key = words[2];
  if (key == "serial") {
    into.board->serial = words.at(3);
  } else if (key == "setting") {
    into.board->settings.emplace_back(words.at(3), words.at(4));
  } else if (key == "gates") {
    into.board->gates.clear();
    for (std::size_t at = 3; at < words.size(); ++at) into.board->gates.push_back(std::stoi(words[at]));
  } else {
    throw std::invalid_argument("a board has no setting " + key);
  }
}

void read_asked_line(const Words& words, Case& into) {
  if (words[0] == "with" && words.size() > 1 && words[1] == "station") return set_station(words, into);
  if (words[0] == "with" && words.size() > 1 && words[1] == "board") return set_board(words, into);
  if (words[0] == "with" && words.size() > 3 && words[1] == "ends") {
    into.ends_settings[words[2]] = joined(words, 3);
  } else if (words[0] == "sends" && words.size() == 3 && words[1] == "within") {
    into.sends_within = instant_of(words[2]).time_since_epoch();
  } else if (words[0] == "recorded" && words.size() == 3 && words[1] == "from") {
    into.ends = words[2];
  } else if (words.size() == 2 && words[1] == "end") {
    into.end = instant_of(words[0]);
  } else if (words.size() > 1) {
    into.asks.push_back(Ask{instant_of(words[0]), Words(words.begin() + 1, words.end())});
  } else {
    throw std::invalid_argument("not understood");
  }
}

}  // namespace

std::string Ask::text() const { return joined(words, 0); }

fs::path case_folder(const std::string& name) {
  return fs::path(LAPWRIGHT_SOURCES) / "tests" / "recordings" / "cases" / name;
}

std::vector<std::string> case_names() {
  std::vector<std::string> names;
  for (const auto& entry : fs::directory_iterator(case_folder(""))) names.push_back(entry.path().filename().string());
  std::sort(names.begin(), names.end());
  return names;
}

std::string file_text(const fs::path& file) {
  std::ifstream stream(file);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

void read_asked(const std::string& text, Case& into) {
  std::istringstream stream(text);
  int number = 0;
  for (std::string line; std::getline(stream, line);) {
    ++number;
    if (line.starts_with('#')) {
      if (into.asks.empty()) into.about.push_back(line);
      continue;
    }
    const Words words = words_of(line);
    try {
      if (!words.empty()) read_asked_line(words, into);
    } catch (const std::exception& mistake) {
      throw std::runtime_error("asked.txt:" + std::to_string(number) + ": \"" + line + "\": " + mistake.what());
    }
  }
  if (into.end == Instant{}) throw std::runtime_error("asked.txt: no line says when it ends");
}

std::vector<Traffic> read_traffic(const std::string& text) {
  std::istringstream stream(text);
  std::vector<Traffic> traffic;
  int number = 0;
  for (std::string line; std::getline(stream, line);) {
    ++number;
    try {
      const std::size_t link = line.find(' ') + 1;
      const std::size_t mark = line.find(' ', link) + 1;
      if (link == 0 || mark == 0 || mark + 1 >= line.size() || line[mark + 1] != ' ') {
        throw std::invalid_argument("not a line of --record");
      }
      Traffic one{instant_of(line.substr(0, link - 1)), line.substr(link, mark - 1 - link), line[mark],
                  unescaped(line.substr(mark + 2))};
      if (std::string_view("<>+-").find(one.mark) == std::string_view::npos) throw std::invalid_argument("mark");
      if (!traffic.empty() && one.at < traffic.back().at) throw std::invalid_argument("time runs backwards");
      traffic.push_back(std::move(one));
    } catch (const std::exception& mistake) {
      throw std::runtime_error("traffic.txt:" + std::to_string(number) + ": \"" + line + "\": " + mistake.what());
    }
  }
  return traffic;
}

Case read_case(const std::string& name) {
  Case result;
  result.name = name;
  try {
    read_asked(file_text(case_folder(name) / "asked.txt"), result);
    result.traffic = read_traffic(file_text(case_folder(name) / "traffic.txt"));
  } catch (const std::exception& mistake) {
    throw std::runtime_error("recording " + name + ", " + mistake.what());
  }
  return result;
}

}  // namespace lapwright::recordings
