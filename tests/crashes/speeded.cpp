#include "tests/crashes/speeded.h"

#include <spdlog/fmt/fmt.h>

#include <set>
#include <stdexcept>

#include "drivers/simulated/engine_file.h"
#include "tests/fixed_calendar.h"
#include "tests/played_shift.h"

namespace lapwright::crashes {
namespace {

constexpr double shift_limit_s = 12 * 3600;

class Nobody final : public ShiftObserver {
 public:
  void engine_begins(const Job&, int, int) override {}
  void engine_ends(const Job&, const JobResult&) override {}
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
};
}  // namespace

World quick_world(std::size_t engines) {
  World world{load_configuration(LAPWRIGHT_CONFIGS "/demo.json"), {}, 1'795'000'000};
  Configuration& configuration = world.configuration;
  const std::filesystem::path works = LAPWRIGHT_CONFIGS "/works";
  configuration.rig.engines.push_back(simulated::load_engine(works / "rowan_engine.json"));
  configuration.shift = {configuration.shift.at(1), {works / "rowan_record.json", works / "trial_sheet.json"}};
  configuration.shift.resize(engines);
  return world;
}

ShiftResult run_on(World& world, Storage& storage, const std::filesystem::path& folder, std::function<void()> changed) {
  const Configuration& configuration = world.configuration;
  VirtualClock clock;
  RememberingStand stand(configuration.rig, clock, world.decoders, std::move(changed));
  const std::vector<Job> jobs = plan_shift(configuration);
  const Shift shift{configuration.railway, planner_among(jobs), configuration.limits, AllowedHours(),
                    folder / "reports"};
  const FixedCalendar calendar(world.now += 2 * 3600);
  ShiftMemory memory(storage, folder, calendar, configuration.caps, configuration.retry);
  InlineWorker worker;
  Journal journal(storage, worker, folder / "journal", calendar);
  ShiftBook book(journal, calendar);
  book.take_up(jobs);
  StopButton button;
  Nobody nobody;
  const ShiftMeans means{stand, clock, calendar, memory, book, button, nobody};
  return played_shift(shift, means, clock, shift_limit_s);
}

std::vector<Record> journal_of(Storage& storage, const std::filesystem::path& folder) {
  std::vector<Record> records;
  for (const std::string& name : storage.list(folder / "journal")) {
    if (!name.ends_with(".jsonl")) continue;
    const std::filesystem::path path = folder / "journal" / name;
    for (Record& record : read_journal(storage.read(path).value_or(""), path).records)
      records.push_back(std::move(record));
  }
  return records;
}

namespace {

std::string cell_of(const std::string& engine, const Record& record) {
  return fmt::format("{} step {} {}", engine, record.at("step").get<int>(), record.at("direction").get<std::string>());
}

}  // namespace

std::vector<std::string> complaints(const std::vector<Record>& records) {
  std::vector<std::string> result;
  std::string engine;
  std::set<std::string> proved;
  std::set<std::string> ended;
  bool over = false;
  for (const Record& record : records) {
    const std::string kind = record.at("kind").get<std::string>();
    if (kind == "job" || kind == "goes_on") engine = record.at("engine").get<std::string>();
    if (kind == "job" && !ended.insert(engine + " begins").second) result.push_back(engine + " was begun twice");
    if (kind == "job_ends" && !ended.insert(engine + " ends").second) result.push_back(engine + " ended twice");
    if (kind == "job_ends" && !record.at("owed").empty()) result.push_back(engine + " is owed CVs");
    if (kind == "pass" && proved.contains(cell_of(engine, record)) && record.at("trouble") == "none") {
      result.push_back(cell_of(engine, record) + " was proved, and measured again");
    }
    if (kind == "verdict" && record.at("verdict") == "proved" && !proved.insert(cell_of(engine, record)).second) {
      result.push_back(cell_of(engine, record) + " was proved twice");
    }
    if (kind == "withdrawn") proved.erase(cell_of(engine, record));
    if (kind == "shift_ends") over = true;
  }
  if (!over) result.emplace_back("the shift has no end");
  return result;
}

Verdicts verdicts(const std::vector<Record>& records) {
  Verdicts result;
  std::string engine;
  for (const Record& record : records) {
    const std::string kind = record.at("kind").get<std::string>();
    if (kind == "job" || kind == "goes_on") engine = record.at("engine").get<std::string>();
    if (kind == "verdict") result[cell_of(engine, record)] = record.at("verdict").get<std::string>();
  }
  return result;
}

}  // namespace lapwright::crashes
