#include "tests/yard/yard_bench.h"

#include <algorithm>
#include <stdexcept>

#include "tests/played_shift.h"

namespace lapwright::yard {
namespace {

class Listener final : public ShiftObserver {
 public:
  explicit Listener(YardBench& bench) : bench_(bench) {}
  void engine_begins(const Job&, int, int) override {}
  void engine_ends(const Job&, const JobResult&) override {}
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
  void waits(const std::string& why) override {
    if (!why.empty()) bench_.waits.push_back(why);
    if (!why.empty() && bench_.asked) bench_.asked(why);
  }

 private:
  YardBench& bench_;
};

}  // namespace

YardBench::YardBench(std::uint64_t seed) : configuration(load_configuration(LAPWRIGHT_CONFIGS "/yard.json")) {
  configuration.rig.seed = seed;
  configuration.reports = folder_.path() / "reports";
}

void YardBench::turn_round() {
  const double length_mm = configuration.track.length_mm;
  simulated::RailwayDescription& railway = configuration.rig.railway;
  railway.yard->joins_mm = length_mm - railway.yard->joins_mm;
  railway.yard->out = Direction::reverse;
  for (std::vector<Gate>* const gates : {&railway.gates, &configuration.track.gates}) {
    for (Gate& gate : *gates) gate.position_mm = length_mm - gate.position_mm;
  }
  configuration.trap = TrapWish{};
  configuration.trap.low_gate = "east";
  configuration.trap.high_gate = "west";
  configuration.track.staging->out_way = -1;
  for (StagingTrack& track : configuration.track.staging->tracks) track.out = Direction::reverse;
}

ShiftResult YardBench::run(const std::vector<Work>& works, bool set_down) {
  for (std::size_t k = 0; k < configuration.shift.size(); ++k) {
    configuration.shift[k].work = works.empty() ? Work::check : works.at(k);
  }
  if (!stand) {
    stand.emplace(configuration.rig, clock);
    if (before_it_lives) before_it_lives(*stand);
  }
  const Shift shift{configuration.railway,
                    [this](const QueueEntry& entry) {
                      return load_job({entry.record_file, entry.sheet_file, entry.work}, configuration);
                    },
                    configuration.limits,
                    configuration.hours,
                    configuration.reports,
                    leave};
  ShiftMemory memory(storage_, folder_.path(), calendar_, configuration.caps, configuration.retry);
  if (set_down) memory.clear();
  InlineWorker worker;
  Journal journal(storage_, worker, folder_.path() / "journal", calendar_);
  ShiftBook book(journal, calendar_);
  book.take_up(plan_shift(configuration));
  StopButton button;
  Listener observer(*this);
  HandOver* const by_hand = person ? &hand_over : nullptr;
  const ShiftMeans means{*stand, clock, calendar_, memory, book, button, observer, by_hand, set_down};
  ShiftResult outcome = played_shift(shift, means, clock, night_s);
  queue = book.queue();
  trip = memory.trip();
  return outcome;
}

const Left& YardBench::last_run_of(const std::string& engine) const {
  const auto is_it = [&](const Left& left) { return left.engine == engine; };
  const auto found = std::find_if(stand->runs.rbegin(), stand->runs.rend(), is_it);
  if (found == stand->runs.rend()) throw std::runtime_error(engine + " was never called");
  return *found;
}

bool YardBench::all_at_home() const {
  const auto well = [](const Left& left) { return !left.derailed && left.buffer_hits == 0; };
  return stand->on_the_loop().empty() && std::all_of(stand->runs.begin(), stand->runs.end(), well);
}

}  // namespace lapwright::yard
