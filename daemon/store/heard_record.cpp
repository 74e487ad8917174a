#include "daemon/store/heard_record.h"

#include <array>
#include <stdexcept>

namespace lapwright {
namespace {

constexpr std::array<std::string_view, 2> directions = {"forward", "reverse"};
constexpr std::array<std::string_view, 5> troubles = {"none", "no_entry", "no_exit", "entry_missed", "noise"};
constexpr std::array<std::string_view, 3> finds = {"lost", "before_the_gate", "beyond_the_gate"};
constexpr std::array<std::string_view, 4> replies = {"silent", "confirmed", "refused", "unsupported"};

template <class Enum, std::size_t size>
std::string_view word_of(const std::array<std::string_view, size>& words, Enum value) {
  return words.at(static_cast<std::size_t>(value));
}

template <class Enum, std::size_t size>
Enum value_of(const std::array<std::string_view, size>& words, std::string_view word) {
  for (std::size_t i = 0; i < size; ++i) {
    if (words[i] == word) return static_cast<Enum>(i);
  }
  throw std::invalid_argument("\"" + std::string(word) + "\" is not a word of the journal");
}

struct Writer {
  Record& record;
  void operator()(const Sighted& seen) const {
    record["kind"] = "sighted";
    record["value"] = seen.value;
    record["speed_mm_s"] = seen.speed_mm_s;
    record["low_came_first"] = seen.low_came_first;
    record["running_s"] = seen.running_s;
  }
  void operator()(const Passed& pass) const {
    record["kind"] = "pass";
    record["step"] = pass.step;
    record["direction"] = code(pass.direction);
    record["drive"] = pass.drive;
    record["trouble"] = word_of(troubles, pass.reading.trouble);
    record["speed_mm_s"] = pass.reading.speed_mm_s;
    record["timing_sd_mm_s"] = pass.reading.timing_sd_mm_s;
    record["doubt_mm_s"] = pass.reading.doubt_mm_s;
    record["pass_running_s"] = pass.reading.running_s;
    record["running_s"] = pass.running_s;
    if (pass.of_proof) record["of_proof"] = true;
  }
  void operator()(const Recovered& recovered) const {
    record["kind"] = "recovered";
    record["found"] = word_of(finds, recovered.found);
  }
  void operator()(const Located& located) const {
    record["kind"] = "located";
    record["turned"] = located.turned;
  }
};

HeardOfTrack read_what(const Record& record, std::string_view kind) {
  if (kind == "sighted") {
    return Sighted{record.at("value").get<int>(), record.at("speed_mm_s").get<double>(),
                   record.at("low_came_first").get<bool>(), record.at("running_s").get<double>()};
  }
  if (kind == "recovered") return Recovered{value_of<Whereabouts>(finds, record.at("found").get<std::string>())};
  if (kind == "located") return Located{record.at("turned").get<bool>()};
  Passed pass;
  pass.step = record.at("step").get<int>();
  pass.direction = value_of<Direction>(directions, record.at("direction").get<std::string>());
  pass.drive = record.at("drive").get<double>();
  pass.reading.trouble = value_of<PassTrouble>(troubles, record.at("trouble").get<std::string>());
  pass.reading.speed_mm_s = record.at("speed_mm_s").get<double>();
  pass.reading.timing_sd_mm_s = record.at("timing_sd_mm_s").get<double>();
  pass.reading.doubt_mm_s = record.at("doubt_mm_s").get<double>();
  pass.reading.running_s = record.at("pass_running_s").get<double>();
  pass.running_s = record.at("running_s").get<double>();
  pass.of_proof = record.value("of_proof", false);
  return pass;
}

}  // namespace

std::string_view code(Direction direction) { return word_of(directions, direction); }

std::string_view code(CvWriteReply reply) { return word_of(replies, reply); }

Direction read_direction(std::string_view word) { return value_of<Direction>(directions, word); }

CvWriteReply read_reply(std::string_view word) { return value_of<CvWriteReply>(replies, word); }

Record heard_record(const Heard& heard) {
  Record record = {{"kind", ""}, {"t_s", heard.at_s}};
  std::visit(Writer{record}, heard.what);
  return record;
}

std::optional<Heard> read_heard(const Record& record) {
  const std::string kind = record.value("kind", "");
  if (kind != "sighted" && kind != "pass" && kind != "recovered" && kind != "located") return std::nullopt;
  try {
    return Heard{record.at("t_s").get<double>(), read_what(record, kind)};
  } catch (const Record::exception&) {
    return std::nullopt;
  } catch (const std::invalid_argument&) {
    return std::nullopt;
  }
}

}  // namespace lapwright
