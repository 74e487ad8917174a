#include "drivers/simulated/railway_file.h"

#include "drivers/settings/reader.h"

namespace lapwright::simulated {
namespace {

using settings::Range;
using settings::Section;

BoardDescription read_board(Section section) {
  BoardDescription board;
  const Range probability{0, 0.5, "a probability"};
  board.position_error_mm = section.number("position_error_mm", Range{0, 20}, board.position_error_mm);
  board.stamp_error_s = section.number("stamp_error_s", Range{0, 0.1}, board.stamp_error_s);
  board.bounce = section.number("bounce", Range{0, 1, "a probability"}, board.bounce);
  board.bounce_s = section.number("bounce_s", Range{0, 0.05}, board.bounce_s);
  board.miss = section.number("miss", probability, board.miss);
  board.twin = section.number("double", probability, board.twin);
  return board;
}

std::vector<Stretch> read_stretches(Section& section, std::string_view key, double length_mm) {
  std::vector<Stretch> result;
  for (Section part : section.sections(key)) {
    Stretch stretch;
    stretch.from_mm = part.number("from_mm", Range{0, length_mm});
    stretch.to_mm = part.number("to_mm", Range{0, length_mm});
    stretch.drag = part.number("drag", Range{-1, 10, "a share of running friction"});
    if (stretch.to_mm <= stretch.from_mm) part.complain("to_mm", "the stretch ends before it begins; swap the two");
    result.push_back(stretch);
  }
  return result;
}

YardDescription read_yard(Section section, double loop_mm) {
  YardDescription yard;
  yard.joins_mm = section.number("joins_mm", Range{0, loop_mm, "where the tracks leave the loop"});
  yard.out =
      section.word<Direction>("out", {{"forward", Direction::forward}, {"reverse", Direction::reverse}}, yard.out);
  for (Section part : section.sections("tracks", {.min = 1, .max = 16, .help = "the staging tracks"})) {
    YardTrack track;
    track.length_mm = part.number("length_mm", Range{100, 1e5, "from the turnout to the buffers"});
    track.engine = part.text("engine", {}, "the name of the engine that stands there");
    yard.tracks.push_back(track);
  }
  return yard;
}

}  // namespace

RailwayDescription read_railway(Section section) {
  RailwayDescription railway;
  railway.name = section.text("name", railway.name);
  section.text("notes", std::string());  // for people only
  railway.shape =
      section.word<TrackShape>("shape", {{"loop", TrackShape::loop}, {"shuttle", TrackShape::shuttle}}, railway.shape);
  railway.length_mm = section.number("length_mm", Range{300, 1e6}, railway.length_mm);
  railway.track_volts = section.maybe_number("track_volts", Range{5, 24});
  railway.start_mm = section.maybe_number("set_down_mm", Range{0, railway.length_mm});
  railway.roughness = section.number("roughness", Range{0, 0.5, "a share of running friction"}, railway.roughness);
  railway.board = read_board(section.section_or_defaults("board"));
  if (section.has("gates")) railway.gates.clear();
  for (Section part : section.sections("gates")) {
    Gate gate;
    gate.name = part.text("name", "gate " + std::to_string(railway.gates.size()));
    gate.position_mm = part.number("position_mm", Range{0, railway.length_mm});
    gate.position_error_mm = railway.board.position_error_mm;
    railway.gates.push_back(gate);
  }
  if (auto yard = section.maybe_section("yard")) railway.yard = read_yard(*yard, railway.length_mm);
  if (railway.yard && railway.shape != TrackShape::loop)
    section.complain("yard", "only a loop can have one; take it out");
  railway.curves = read_stretches(section, "curves", railway.length_mm);
  railway.bindings = read_stretches(section, "bindings", railway.length_mm);
  return railway;
}

RailwayDescription load_railway(const std::filesystem::path& path) {
  settings::Document document = settings::load_file(path);
  RailwayDescription railway = read_railway(document.root());
  document.finish();
  return railway;
}

}  // namespace lapwright::simulated
