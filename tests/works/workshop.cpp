#include "tests/works/workshop.h"

#include <spdlog/fmt/fmt.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <stdexcept>

#include "drivers/simulated/decoder.h"
#include "drivers/simulated/engine_file.h"
#include "tests/fixed_calendar.h"
#include "tests/played_shift.h"

namespace lapwright::workday {
namespace {

constexpr double work_limit_s = 12 * 3600;

class Listener final : public ShiftObserver {
 public:
  Listener(Workshop& shop, Clock& clock) : shop_(shop), clock_(clock), began_(clock.now()) {}
  void engine_begins(const Job&, int, int) override { tell("engine begins"); }
  void engine_ends(const Job&, const JobResult&) override { tell("engine ends"); }
  void phase(const std::string& what) override {
    shop_.phases.push_back(what);
    tell(what);
  }
  void pass(int step, Direction direction, double speed_mm_s) override {
    tell(fmt::format("pass {}{} {:.3f} mm/s", step, direction == Direction::forward ? "f" : "r", speed_mm_s));
  }
  void settled(const CellResult&) override {}
  void progress(int, int) override {}

 private:
  void tell(const std::string& what) { shop_.story.push_back({in_seconds(clock_.now() - began_), what}); }

  Workshop& shop_;
  Clock& clock_;
  Instant began_;
};

}  // namespace

Workshop::Workshop() : Workshop(LAPWRIGHT_CONFIGS "/engines/tarn_lady.json", "sheets/notched_freight.json", 11) {}

Workshop::Workshop(const std::filesystem::path& engine_file, const std::string& sheet, std::uint64_t seed)
    : configuration(load_configuration(LAPWRIGHT_CONFIGS "/demo.json")) {
  configuration.rig.engines = {simulated::load_engine(engine_file)};
  configuration.rig.seed = seed;
  configuration.shift = {{folder_.path() / "record.json", std::filesystem::path(LAPWRIGHT_CONFIGS) / sheet}};
  configuration.reports = folder_.path() / "reports";
  // The record that its owner would have: what has to be known of a decoder that does not answer.
  const simulated::EngineDescription& made = engine();
  const std::map<int, std::uint8_t> held = made.addressed_decoder().cvs;
  nlohmann::json record = {{"name", made.name},
                           {"road_number", made.road_number},
                           {"scale", made.scale},
                           {"address", {{made.address > 127 ? "long" : "short", made.address}}},
                           {"length_mm", made.length_mm}};
  for (const int number : {3, 4, 19, 23, 24, 29, 65}) {
    const auto found = held.find(number);
    record["cvs"]["CV" + std::to_string(number)] = found == held.end() ? 0 : found->second;
  }
  std::ofstream(configuration.shift.front().record) << record;
}

void Workshop::reset_decoder() {
  simulated::DecoderDescription description = engine().decoder;
  description.cvs.clear();
  const simulated::Decoder factory(description);
  for (int number = 1; number <= 256; ++number) decoder()[number] = factory.cv(number);
}

EngineFile Workshop::file() { return {storage_, folder_.path(), load_record(configuration.shift.front().record)}; }

void Workshop::change_record(const std::function<void(nlohmann::json&)>& change) {
  std::ifstream in(configuration.shift.front().record);
  nlohmann::json record = nlohmann::json::parse(in);
  in.close();
  change(record);
  std::ofstream(configuration.shift.front().record) << record;
}

void Workshop::let_it_talk() {
  engine().decoder.answers_reads = true;
  engine().decoder.cvs[29] |= 0x08;
  change_record([](nlohmann::json& record) { record["cvs"]["CV29"] = record["cvs"]["CV29"].get<int>() | 0x08; });
}

void Workshop::move_to_long_address() {
  engine().address = 1042;
  change_record([](nlohmann::json& record) {
    record["address"] = {{"long", 1042}};
    record["cvs"]["CV29"] = record["cvs"]["CV29"].get<int>() | 0x20;
  });
}

ShiftTurn Workshop::run(Work work) {
  configuration.shift.front().work = work;
  VirtualClock clock;
  crashes::RememberingStand stand(configuration.rig, clock, decoders_, [this] {
    ++writes;
    written();
  });
  const std::vector<Job> jobs = plan_shift(configuration);
  const Shift shift{configuration.railway, planner_among(jobs), configuration.limits, AllowedHours(),
                    configuration.reports};
  const FixedCalendar calendar(now_ += 86400);
  ShiftMemory memory(storage_, folder_.path(), calendar, configuration.caps, configuration.retry);
  InlineWorker worker;
  Journal journal(storage_, worker, folder_.path() / "journal", calendar);
  ShiftBook book(journal, calendar);
  book.begin(jobs);
  StopButton button;
  story.clear();
  Listener observer(*this, clock);
  const ShiftMeans means{stand, clock, calendar, memory, book, button, observer};
  const ShiftResult outcome = played_shift(shift, means, clock, work_limit_s);
  if (outcome.turns.empty()) throw std::runtime_error("the work was not begun");
  return outcome.turns.front();
}

}  // namespace lapwright::workday
