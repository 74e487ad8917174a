#include "tuning/staging_run.h"

#include <algorithm>
#include <cmath>
#include <deque>
#include <map>
#include <optional>
#include <vector>

#include "tuning/creep.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double at_rest_s = 1.0;       // from a halt until turnouts may be set; a command to stand would not be a halt
constexpr double clear_at_least_s = 2;  // longer than any opening takes …
constexpr int clear_times = 6;          // … or than one behind a short part, of which an engine may be fast
constexpr double free_share = 0.4;      // of the way on to the turnouts, for the run-on of a known speed
constexpr double clear_limit_s = 90;
constexpr double motor_mA = 8;  // without which no motor turns
constexpr int readings = 50;
constexpr Duration between_readings = std::chrono::milliseconds(20);
constexpr double alike = 1.12;         // laps by two gates, which see them begin at different times
constexpr double settled = 1.02;       // one lap and the next: it gathers no more speed
constexpr int laps_at_most = 6;        // then it is as uneven as that, and the fastest counts
constexpr double slower = 4;           // than wished may an engine be whose decoder was not tuned
constexpr double too_slow = 0.4;       // of the speed wished: another step suits better …
constexpr double too_fast = 2;         // … as it does above this
constexpr double faster = 1.5;         // the step after one at which it did not come round
constexpr double highest_share = 0.6;  // of the steps
constexpr int steps_to_try = 4;
constexpr double late_s = 0.15;  // of its speed it runs on for after the command to halt
constexpr double spare_s = 10;

bool like(double one, double other, double ratio) { return one < ratio * other && other < ratio * one; }

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
  asio::awaitable<bool> all_of_it_out(Duration run_on_at_most);
  [[nodiscard]] Duration room_at(double speed_mm_s) const;
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
  std::deque<Passage> others_;  ///< seen while one of them was looked at
  bool in_the_beam_ = false;    ///< of the clear gate
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

/// The next change of any beam; what only flashed is none. Interruptions are told `in_the_beam_s` later.
asio::awaitable<std::optional<Passage>> Run::next(Instant until) {
  for (;;) {
    std::optional<Passage> change;
    if (!others_.empty()) {
      change = others_.front();
      others_.pop_front();
    } else {
      change = co_await next_change(rig_, filter_, until, std::nullopt);
    }
    if (!change) co_return std::nullopt;
    bool real = true;
    if (change->blocked) real = co_await stays_in_the_beam(rig_, clock_, filter_, change->gate, others_);
    if (!real) continue;
    if (change->gate == staging_.clear_gate) in_the_beam_ = change->blocked;
    co_return change;
  }
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

/// So long may it run on beyond the clear gate, before it is on its way round to the turnouts.
Duration Run::room_at(double speed_mm_s) const {
  const auto at_mm = [&](int gate) { return track_.gates[static_cast<std::size_t>(gate)].position_mm; };
  double free_mm = staging_.out_way * (at_mm(beyond_the_turnouts()) - at_mm(staging_.clear_gate));
  if (free_mm <= 0) free_mm += track_.length_mm;
  return seconds(free_share * free_mm / speed_mm_s);
}

/// Underway outwards. False: it does not come to the clear gate, or something of it stays in the beam.
asio::awaitable<bool> Run::all_of_it_out(Duration run_on_at_most) {
  const Instant limit = clock_.now() + seconds(clear_limit_s);
  std::optional<Instant> came = in_the_beam_ ? std::optional(clock_.now()) : std::nullopt;
  std::optional<Instant> clear_since;
  while (clock_.now() < limit) {
    Instant until = limit;
    // An opening behind the end is clear for a shorter time than what came before it took.
    if (clear_since) {
      const Duration in_it = *clear_since - *came;
      const Duration longer = std::min<Duration>({seconds(clear_at_least_s), clear_times * in_it, run_on_at_most});
      until = *clear_since + std::max(in_it, longer);
    }
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
  in_the_beam_ = crept.seen && crept.seen->gate == staging_.clear_gate;
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
                             ", and it drew no current: it does not hear at that address, is in a consist, or has no "
                             "contact with the rails"};
  }
  const bool clear = co_await all_of_it_out(seconds(clear_at_least_s));
  co_await come_to_rest();
  if (!clear) co_return lost("it came to gate " + name(staging_.clear_gate) + " and did not leave it. Look there");
  co_await rig_.set_route(0);
  co_return StagingRun{Arrival::there, ""};
}

/// The latest lap past the clear gate, once it is as long as the one before it: an engine with momentum gathers speed
/// for a while. The gate beyond the turnouts has to say about the same, as one of them may have missed the engine.
asio::awaitable<std::optional<double>> Run::lap_mm_s() {
  const double slowest_mm_s = place_.speed_mm_s / slower;
  const Instant limit = clock_.now() + seconds(laps_at_most * track_.length_mm / slowest_mm_s);
  std::map<int, Instant> clear_since;
  std::map<int, double> came_s;
  std::map<int, double> lap_mm_s;
  std::vector<double> laps;  // past the clear gate
  while (clock_.now() < limit) {
    const std::optional<Passage> change = co_await next(limit);
    if (!change) break;
    const int gate = change->gate;
    if (!change->blocked) clear_since[gate] = clock_.now();
    if (!change->blocked) continue;
    const auto clear = clear_since.find(gate);
    if (clear != clear_since.end() && clock_.now() - clear->second < seconds(clear_at_least_s)) continue;
    const auto [before, first] = came_s.try_emplace(gate, change->at_s);
    if (!first) lap_mm_s[gate] = track_.length_mm / (change->at_s - before->second);
    before->second = change->at_s;
    if (first || gate != staging_.clear_gate) continue;
    laps.push_back(lap_mm_s[gate]);
    const auto there = lap_mm_s.find(beyond_the_turnouts());
    if (laps.size() < 2 || there == lap_mm_s.end() || !like(laps.back(), there->second, alike)) continue;
    if (like(laps.back(), laps[laps.size() - 2], settled)) co_return laps.back();
    if (laps.size() >= laps_at_most) co_return *std::max_element(laps.begin() + 1, laps.end());
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
  const Duration room = room_at(speed_mm_s);
  const bool clear = co_await all_of_it_out(room);
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
  const double way_mm = end_.to_buffer_mm - place_.stop_short_mm;
  std::optional<Instant> stop_at;
  bool passed = false;  // the clear gate has seen all of it
  bool astray = false;
  while (!astray && clock_.now() < stop_at.value_or(limit)) {
    const Instant until = stop_at.value_or(limit);
    const std::optional<Passage> change = co_await next(until);
    if (!change) break;
    astray = change->gate == beyond_the_turnouts();
    if (change->gate != staging_.clear_gate) continue;
    passed = stop_at && !change->blocked;
    if (!stop_at && change->blocked) stop_at = clock_.now() + seconds(way_mm / speed_mm_s - late_s - in_the_beam_s);
  }
  co_await come_to_rest();
  if (astray) co_return off_the_route();
  if (!stop_at) co_return lost("on the way home it did not come back to gate " + name(staging_.clear_gate));
  if (!passed) {
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
