#include "daemon/shift_file.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/limits_setup.h"
#include "daemon/load_into.h"
#include "drivers/settings/reader.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
using settings::Range;
using settings::Section;

const char* const whose_turn = "the engines whose turn it is";

Work read_entry_work(Section& entry) {
  return entry.word<Work>("work",
                          {{"tune", Work::tune},
                           {"check", Work::check},
                           {"check-all", Work::check_all},
                           {"restore", Work::restore},
                           {"undo", Work::undo}},
                          Work::tune);
}

double cap_within(Section& caps, const char* key, double allowed_s) {
  return caps.number(key, Range{60, allowed_s, "no more than /limits of the configuration allow"}, allowed_s);
}

}  // namespace

std::vector<ShiftEntry> read_entries(Section& parent, const char* key, const fs::path& folder, const char* help) {
  std::vector<ShiftEntry> entries;
  for (Section part : parent.sections(key, {.min = 0, .max = 1000, .help = help})) {
    ShiftEntry entry;
    entry.record = placed(folder, part.text("record", {}, "the engine record's file"));
    entry.sheet = placed(folder, part.text("sheet", {}, "the target sheet's file"));
    entry.work = read_entry_work(part);
    entries.push_back(std::move(entry));
  }
  return entries;
}

ShiftPlan load_shift(const fs::path& path, const ShiftFrame& frame) {
  settings::Document document = settings::load_file(path);
  Section root = document.root();
  root.text("notes", std::string());  // for people only
  ShiftPlan plan;
  plan.engines = read_entries(root, "engines", path.parent_path(), whose_turn);
  const AllowedHours own = read_hours(root);
  plan.hours = frame.hours.and_within(own);
  if (root.mistakes() == 0 && plan.hours.never()) {
    root.complain("hours", fmt::format("{} never meets the configuration's {}; change one of them", own.text(),
                                       frame.hours.text()));
  }
  Section caps = root.section_or_defaults("caps");
  plan.caps.job_s = cap_within(caps, "running_s", frame.caps.job_s);
  plan.caps.day_s = cap_within(caps, "day_running_s", frame.caps.day_s);
  plan.caps.shift_s = cap_within(caps, "shift_running_s", frame.caps.shift_s);
  document.finish();
  return plan;
}

std::vector<ShiftEntry> engines_of_shift(const fs::path& path) {
  try {
    settings::Document document = settings::load_file(path);
    Section root = document.root();
    return read_entries(root, "engines", path.parent_path(), "");
  } catch (const settings::Errors&) {  // no JSON: it names nothing
    return {};
  }
}

}  // namespace lapwright
