#include "tuning/staging_run.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "tuning/creep.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double at_rest_s =
    1.0;  // from a halt until turnouts may be set; a stop in between would be one with momentum
constexpr double clear_at_least_s = 2;  // longer than any opening takes
constexpr double clear_limit_s = 90;
constexpr double motor_mA = 8;  // without which no motor turns
constexpr int readings = 50;
constexpr Duration between_readings = std::chrono::milliseconds(20);
constexpr double alike = 1.12;         // laps by two gates
constexpr double slower = 4;           // than wished may an engine be whose decoder was not tuned
constexpr double too_slow = 0.4;       // of the speed wished: another step suits better …
constexpr double too_fast = 2;         // … as it does above this
constexpr double faster = 1.5;         // the step after one at which it did not come round
constexpr double highest_share = 0.6;  // of the steps
constexpr int steps_to_try = 4;
constexpr double late_s = 0.15;  // of its speed it runs on for after the command to halt
constexpr double spare_s = 10;

StagingRun lost(std::string what) { return {Arrival::lost, std::move(what)}; }

/// One run of one engine, out or home.
class Run {
 public:
  Run(Rig& rig, Clock& clock, const TestTrack& track, const StagingPlace& place)
      : rig_(rig),
        clock_(clock),
        track_(track),
        staging_(*track.staging),
        end_(staging_.tracks[static_cast<std::size_t>(place.route) - 1]),
        place_(place),
        filter_(static_cast<int>(track.gates.size()), track.quiet_s) {}

  asio::awaitable<StagingRun> out();
  asio::awaitable<StagingRun> home();

 private:
  asio::awaitable<void> drive(int step, Direction direction);
  asio::awaitable<std::optional<Passage>> next(Instant until);
  asio::awaitable<void> come_to_rest();
  asio::awaitable<std::optional<double>> standing_mA();
  asio::awaitable<bool> all_of_it_out();
  asio::awaitable<std::optional<double>> lap_mm_s();
  asio::awaitable<double> moderate_mm_s();
  asio::awaitable<StagingRun> run_in(double speed_mm_s);
  [[nodiscard]] Direction homeward() const { return opposite(end_.out); }
  [[nodiscard]] const std::string& name(int gate) const { return track_.gates[static_cast<std::size_t>(gate)].name; }
  [[nodiscard]] int beyond_the_turnouts() const { return next_gate(track_, staging_.clear_gate, -staging_.out_way); }
  [[nodiscard]] StagingRun off_the_route() const;

  Rig& rig_;
  Clock& clock_;
  const TestTrack& track_;
  const Staging& staging_;
  const StagingTrack& end_;
  StagingPlace place_;
  EdgeFilter filter_;
  std::optional<Instant> in_the_beam_since_;  ///< of the clear gate
};

StagingRun Run::off_the_route() const {
  return {Arrival::astray,
          "gate " + name(beyond_the_turnouts()) +
              " saw it on the loop, beyond the turnouts that should have led it home. Look at them and their decoders"};
}

asio::awaitable<void> Run::drive(int step, Direction direction) {
  const ThrottleCommand command{step, direction, place_.mode};
  co_await rig_.drive(command);
}

/// The next change of any beam.
asio::awaitable<std::optional<Passage>> Run::next(Instant until) {
  const std::optional<Passage> change = co_await next_change(rig_, filter_, until, std::nullopt);
  if (change && change->gate == staging_.clear_gate) {
    if (!change->blocked) in_the_beam_since_.reset();
    if (change->blocked && !in_the_beam_since_) in_the_beam_since_ = clock_.now();
  }
  co_return change;
}

asio::awaitable<void> Run::come_to_rest() {
  co_await rig_.halt();
  const Instant rested = clock_.now() + seconds(at_rest_s);
  while (clock_.now() < rested) co_await next(rested);
  co_await drive(0, end_.out);
}

asio::awaitable<std::optional<double>> Run::standing_mA() {
  double sum_mA = 0;
  int count = 0;
  for (int reading = 0; reading < readings; ++reading) {
    const std::optional<double> current_mA = rig_.track_current_mA();
    if (current_mA) ++count;
    sum_mA += current_mA.value_or(0);
    co_await clock_.sleep_for(between_readings);
  }
  if (count == 0) co_return std::nullopt;
  co_return sum_mA / count;
}

/// Underway outwards. False: it does not come to the clear gate, or something of it stays in the beam.
asio::awaitable<bool> Run::all_of_it_out() {
  const Instant limit = clock_.now() + seconds(clear_limit_s);
  std::optional<Instant> came = in_the_beam_since_ ? std::optional(clock_.now()) : std::nullopt;
  std::optional<Instant> clear_since;
  while (clock_.now() < limit) {
    Instant until = limit;
    // An opening behind the end is clear for a shorter time than what came before it took.
    if (clear_since) until = *clear_since + std::max(*clear_since - *came, seconds(clear_at_least_s));
    const std::optional<Passage> change = co_await next(until);
    if (!change) co_return clear_since.has_value();
    if (change->gate != staging_.clear_gate) continue;
    clear_since.reset();
    if (change->blocked && !came) came = clock_.now();
    if (!change->blocked && came) clear_since = clock_.now();
  }
  co_return false;
}

asio::awaitable<StagingRun> Run::out() {
  co_await rig_.set_route(place_.route);
  const std::optional<double> standing = co_await standing_mA();
  const Creep way{end_.out, place_.mode, end_.to_buffer_mm};
  const Crept crept = co_await creep(rig_, clock_, filter_, way);
  if (crept.seen && crept.seen->gate == staging_.clear_gate) in_the_beam_since_ = clock_.now();
  if (!crept.seen || crept.seen->gate == beyond_the_turnouts()) {
    co_await come_to_rest();
    if (crept.seen) co_return off_the_route();
    const std::string nobody = "no gate saw it come out of staging track " + std::to_string(place_.route);
    if (!standing || !crept.most_mA || *crept.most_mA - *standing > motor_mA) {
      co_return lost(nobody + ". Look where it stands, and at gate " + name(staging_.clear_gate));
    }
    co_await rig_.set_route(0);
    co_return StagingRun{Arrival::never_left,
                         nobody +
                             ", and it drew no current: it does not hear at that address, or has no contact with "
                             "the rails"};
  }
  const bool clear = co_await all_of_it_out();
  co_await come_to_rest();
  if (!clear) co_return lost("it came to gate " + name(staging_.clear_gate) + " and did not leave it. Look there");
  co_await rig_.set_route(0);
  co_return StagingRun{Arrival::there, ""};
}

/// Both at the clear gate and at the one beyond the turnouts: an edge that is missing at one of them makes no speed.
asio::awaitable<std::optional<double>> Run::lap_mm_s() {
  const double slowest_mm_s = place_.speed_mm_s / slower;
  const Instant limit = clock_.now() + seconds(2 * track_.length_mm / slowest_mm_s);
  std::map<int, Instant> clear_since;
  std::map<int, double> came_s;
  std::map<int, double> laps_mm_s;
  while (clock_.now() < limit) {
    const std::optional<Passage> change = co_await next(limit);
    if (!change) break;
    const int gate = change->gate;
    if (!change->blocked) clear_since[gate] = clock_.now();
    if (!change->blocked) continue;
    const auto clear = clear_since.find(gate);
    if (clear != clear_since.end() && clock_.now() - clear->second < seconds(clear_at_least_s)) continue;
    const auto [before, first] = came_s.try_emplace(gate, change->at_s);
    if (!first) laps_mm_s[gate] = track_.length_mm / (change->at_s - before->second);
    before->second = change->at_s;
    const auto here = laps_mm_s.find(staging_.clear_gate);
    const auto there = laps_mm_s.find(beyond_the_turnouts());
    if (here == laps_mm_s.end() || there == laps_mm_s.end()) continue;
    const double ratio = here->second / there->second;
    if (ratio < alike && ratio > 1 / alike) co_return here->second;
  }
  co_return std::nullopt;
}

/// At a step that it leaves commanded. 0: it does not come round
asio::awaitable<double> Run::moderate_mm_s() {
  const int highest = static_cast<int>(highest_share * top_step(place_.mode));
  for (int k = 0; k < steps_to_try; ++k) {
    co_await drive(place_.step, homeward());
    const std::optional<double> lap = co_await lap_mm_s();
    const double share = lap.value_or(0) / place_.speed_mm_s;
    if (lap && share >= too_slow && share <= too_fast) co_return *lap;
    const double wished = lap ? place_.step / share : faster * place_.step + 1;
    const int next = std::clamp(static_cast<int>(std::lround(wished)), 1, highest);
    if (next == place_.step) co_return lap.value_or(0);
    place_.step = next;
  }
  co_return 0;
}

asio::awaitable<StagingRun> Run::home() {
  co_await rig_.set_route(0);
  const double speed_mm_s = co_await moderate_mm_s();
  co_await come_to_rest();
  if (speed_mm_s <= 0) co_return lost("on the way home the gates did not see it come round. Look where it stands");
  co_await drive(place_.step, end_.out);
  const bool clear = co_await all_of_it_out();
  co_await come_to_rest();
  if (!clear) {
    co_return lost("on the way home it did not run clear of gate " + name(staging_.clear_gate) + ". Look there");
  }
  co_await rig_.set_route(place_.route);
  const StagingRun run = co_await run_in(speed_mm_s);
  co_return run;
}

asio::awaitable<StagingRun> Run::run_in(double speed_mm_s) {
  co_await drive(place_.step, homeward());
  const Instant limit = clock_.now() + seconds(clear_limit_s + spare_s);
  std::optional<Instant> stop_at;
  bool astray = false;
  while (!astray && clock_.now() < stop_at.value_or(limit)) {
    const Instant until = stop_at.value_or(limit);
    const std::optional<Passage> change = co_await next(until);
    if (!change) break;
    astray = change->gate == beyond_the_turnouts();
    if (change->gate != staging_.clear_gate) continue;
    const double way_mm = end_.to_buffer_mm - place_.stop_short_mm;
    if (!stop_at && change->blocked) stop_at = clock_.now() + seconds(way_mm / speed_mm_s - late_s);
  }
  co_await come_to_rest();
  if (astray) co_return off_the_route();
  if (!stop_at) co_return lost("on the way home it did not come back to gate " + name(staging_.clear_gate));
  if (in_the_beam_since_) {
    co_return lost("it should be home and still stands in gate " + name(staging_.clear_gate) +
                   ". Look where it stands, and what holds it");
  }
  co_await rig_.set_route(0);
  co_return StagingRun{Arrival::there, ""};
}

}  // namespace

asio::awaitable<StagingRun> come_out(Rig& rig, Clock& clock, const TestTrack& track, StagingPlace place) {
  Run run(rig, clock, track, place);
  const StagingRun came = co_await run.out();
  co_return came;
}

asio::awaitable<StagingRun> go_home(Rig& rig, Clock& clock, const TestTrack& track, StagingPlace place) {
  Run run(rig, clock, track, place);
  const StagingRun came = co_await run.home();
  co_return came;
}

}  // namespace lapwright
