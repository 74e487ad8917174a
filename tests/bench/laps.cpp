#include "tests/bench/laps.h"

#include <cmath>

#include "tests/bench/judge.h"

namespace lapwright::bench {
namespace asio = boost::asio;
namespace {

constexpr double look_s = 2;             // a person glances at the engine this often
constexpr double patience_share = 3;     // times the wanted lap time
constexpr double stands_below_mm = 0.5;  // in one glance's time

}  // namespace

LapReader::LapReader(World& world, const Stage& stage)
    : world_(world),
      trap_(stage.trap),
      track_mm_(stage.railway.length_mm),
      filter_(static_cast<int>(stage.railway.gates.size()), simulated::as_told(stage.railway).quiet_s) {}

void LapReader::prepare_decoder() {
  simulated::Decoder& decoder = world_.rig().decoder();
  DriveSettings settings;
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    settings.table[static_cast<std::size_t>(entry - 1)] = 255 * entry / cv::table_entries;
  }
  install(decoder, settings);
}

asio::awaitable<void> LapReader::write(int cv, int value) {
  const auto held = held_.find(cv);
  if (held != held_.end() && held->second == value) co_return;
  held_[cv] = value;
  ++writes_;
  co_await world_.rig().write_cv(cv, static_cast<std::uint8_t>(value));
}

void LapReader::note(const Passage& passage, Direction direction, Crossing& crossing) const {
  if (!passage.blocked) return;  // the leading end, whichever it is, comes into the beam
  if (passage.gate == trap_.entry(direction) && !crossing.entry_s) {
    crossing.entry_s = passage.at_s;
  } else if (passage.gate == trap_.exit(direction) && crossing.entry_s && !crossing.exit_s) {
    crossing.exit_s = passage.at_s;
  }
}

asio::awaitable<double> LapReader::lap(int step, Direction direction, double wanted_mm_s) {
  simulated::SimulatedRig& rig = world_.rig();
  const ThrottleCommand command{step, direction, StepMode::steps28};
  co_await rig.drive(command);
  ++passes_;
  const double begin_mm = rig.distance_mm();
  const double begin_s = world_.now_s();
  double looked_s = begin_s;
  double looked_mm = begin_mm;
  double least_mm = least_travel_mm_;
  Crossing crossing;
  for (;;) {
    const Instant deadline = world_.clock().now() + seconds(look_s);
    const std::optional<GateEdge> edge = co_await rig.next_edge(deadline);
    const double travelled_mm = rig.distance_mm() - begin_mm;
    if (edge) {
      const std::optional<Passage> passage = filter_.feed(*edge);
      const bool entered = crossing.entry_s.has_value();
      if (passage && travelled_mm >= least_mm) note(*passage, direction, crossing);
      // With one gate the exit is the same gate a lap later.
      if (trap_.times_laps() && !entered && crossing.entry_s) least_mm = travelled_mm + 0.5 * track_mm_;
      if (crossing.exit_s) break;
    }
    if (crossing.entry_s && travelled_mm > least_mm + 1.5 * track_mm_) {  // the exit's edge was lost: one more lap
      crossing = Crossing();
      least_mm = travelled_mm + 0.5 * track_mm_;
    }
    const double now_s = world_.now_s();
    if (now_s - looked_s < look_s) continue;
    if (rig.distance_mm() - looked_mm < stands_below_mm) co_return 0.0;
    if (now_s - begin_s > patience_share * track_mm_ / wanted_mm_s) co_return travelled_mm / (now_s - begin_s);
    looked_s = now_s;
    looked_mm = rig.distance_mm();
  }
  least_travel_mm_ = 0.5 * track_mm_;
  co_return trap_.base_mm / (*crossing.exit_s - *crossing.entry_s);
}

asio::awaitable<ValueTrial> try_value(LapReader& reader, const StepAim& aim, int value) {
  ValueTrial trial;
  const auto reads_well = [&aim](double speed) { return std::abs(speed - aim.speed_mm_s) <= aim.tolerance_mm_s; };
  const int number = cv::table_entry(aim.step);
  co_await reader.write(number, value);
  trial.forward_mm_s = co_await reader.lap(aim.step, Direction::forward, aim.speed_mm_s);
  if (!reads_well(trial.forward_mm_s)) co_return trial;
  const double reverse = co_await reader.lap(aim.step, Direction::reverse, aim.speed_mm_s);
  trial.reverse_mm_s = reverse;
  trial.good = reads_well(reverse);
  co_return trial;
}

void claim(Outcome& outcome, int step, bool accepted) {
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    outcome.claims.push_back(CellClaim{step, direction, accepted ? Verdict::proved : Verdict::failed});
  }
}

}  // namespace lapwright::bench
