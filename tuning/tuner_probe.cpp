// A few passes that tell what kind of decoder and engine this is; each one also feeds the response.
#include <algorithm>
#include <cmath>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double top_units = 18;
constexpr double long_run_up_s = 1.6;
constexpr double test_share = 0.6;           // to which a test lowers CV5, and a trim from 128
constexpr double lowered_share = 0.55;       // of the reference speed, about, that is then run if the value acts
constexpr double acts_below = 0.90;          // of the reference speed: the value acts …
constexpr double idle_above = 0.96;          // … or does not; between them the pass is repeated
constexpr double below_units = 5;            // where the curve's lower half is probed
constexpr double unknown_speed_error = 0.3;  // the speed is what the probe is to find
constexpr double doubtful_share = 0.01;      // of the speed, that a doubled edge may leave open
constexpr int top_tries = 4;
constexpr int tries_to_probe = 6;
constexpr double off_target = 0.15;
constexpr double highest_drive = 255;
constexpr double longest_leap = 4;
constexpr double drive_power = 0.85;
constexpr double found_speed_sd = 0.06;  // share: the drive was still being raised
constexpr double unsettled_sd = 0.03;    // share

bool usable(const PassReading& reading) {
  return reading.trouble == PassTrouble::none && reading.doubt_mm_s < doubtful_share * reading.speed_mm_s;
}

bool may_have_stalled(const PassReading& reading) {
  return reading.trouble == PassTrouble::no_entry || reading.trouble == PassTrouble::no_exit;
}

}  // namespace

asio::awaitable<void> Tuner::probe() {
  observer_.phase("finding the ends");
  bool found = co_await probe_ends();
  if (!found && order_.track.shape == TrackShape::loop && !trap_.times_laps()) {
    // A missed edge can make the first sight of an engine false: its speed, its place, even the way it faces. On a
    // loop it can be looked for anew; on a shuttle an engine in an unknown place is left to a person.
    sheet_.response() = Response{};
    remarks_.resize(sight_.remarks_before);
    trap_ = order_.trap;
    motion_.use_trap(trap_);
    motion_.set_limits(order_.clear_below_mm, order_.clear_above_mm);
    motion_.book() = SpeedBook(order_.mode);
    co_await find_again();
    found = co_await probe_ends();
  }
  if (!found) throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
  co_await probe_traits();
  co_await probe_below();
  sheet_.response().refit();
}

PassOrder Tuner::probe_order(int step, Direction direction, double expected, double run_up_s) const {
  PassOrder pass;
  pass.step = step;
  pass.direction = direction;
  pass.expected_mm_s = expected * unit_mm_s_;
  pass.run_up_s = run_up_s;
  pass.reckoning_error = unknown_speed_error;
  return pass;
}

asio::awaitable<PassReading> Tuner::probe_once(PassOrder pass) {
  check_budget();
  const PassReading reading = co_await take(pass);
  ++passes_;
  last_direction_ = pass.direction;
  if (usable(reading)) {
    observer_.pass(pass.step, pass.direction, reading.speed_mm_s);
  } else {
    ++rejected_;
  }
  co_return reading;
}

asio::awaitable<std::optional<PassReading>> Tuner::probe_pass(PassOrder pass) {
  for (int attempt = 0; attempt < tries_to_probe; ++attempt) {
    const PassReading reading = co_await probe_once(pass);
    if (usable(reading)) co_return reading;
    if (!may_have_stalled(reading)) continue;
    const Whereabouts found = co_await recover(pass.direction);
    if (found == Whereabouts::lost) co_return std::nullopt;
  }
  co_return std::nullopt;
}

asio::awaitable<bool> Tuner::probe_ends() {
  const int top = top_step(order_.mode);
  PassReading found;
  found.speed_mm_s = sight_.speed * unit_mm_s_;
  found.running_s = motion_.running_s();
  observe(sight_.drive, Direction::forward, found, found_speed_sd * sight_.speed);
  motion_.book().set(1, Direction::forward, sight_.speed * unit_mm_s_);
  motion_.book().set(1, Direction::reverse, sight_.speed * unit_mm_s_);
  // Engines answer a little more than in proportion; from a crawl the top is not to be reached in one leap.
  const double leap = std::clamp(top_units / sight_.speed, 0.3, longest_leap);
  double drive = std::min(sight_.drive * std::pow(leap, drive_power), highest_drive);
  double expected = sight_.speed * std::pow(drive / sight_.drive, 1 / drive_power);
  std::array<double, 2> long_speed = {};
  for (int attempt = 0; attempt < top_tries; ++attempt) {
    sheet_.settings().table.back() = std::clamp(static_cast<int>(std::lround(drive)), 1, 255);
    co_await put_entry(cv::table_entries);
    const double at = sheet_.drive_at(top, Direction::reverse);
    const PassOrder pass = probe_order(top, Direction::reverse, expected, long_run_up_s);
    const std::optional<PassReading> reading = co_await probe_pass(pass);
    if (!reading) co_return false;
    observe(at, Direction::reverse, *reading, 0);
    long_speed[1] = reading->speed_mm_s / unit_mm_s_;
    motion_.book().set(top, Direction::forward, reading->speed_mm_s);
    motion_.book().set(top, Direction::reverse, reading->speed_mm_s);
    expected = long_speed[1];
    if (std::abs(long_speed[1] / top_units - 1) < off_target || at >= highest_drive) break;
    // The straight line through what is known; at worst proportional.
    const double slope = (long_speed[1] - sight_.speed) / (at - sight_.drive);
    const double plausible = std::clamp(slope, 0.5 * long_speed[1] / at, 3 * long_speed[1] / at);
    drive = std::min(at + (top_units - long_speed[1]) / plausible, highest_drive);
    expected += plausible * (drive - at);
  }
  const PassOrder onwards = probe_order(top, Direction::forward, expected, long_run_up_s);
  const std::optional<PassReading> forward = co_await probe_pass(onwards);
  if (!forward) co_return false;
  observe(sheet_.drive_at(top, Direction::forward), Direction::forward, *forward, 0);
  long_speed[0] = forward->speed_mm_s / unit_mm_s_;
  co_await check_settling(long_speed[0], long_speed[1]);
  co_return true;
}

asio::awaitable<void> Tuner::check_settling(double forward_long, double reverse_long) {
  const int top = top_step(order_.mode);
  const double tolerance = sheet_.entry_aims().back().tolerance;
  run_up_s_ = 0.6;
  for (int attempt = 0; attempt < 3; ++attempt) {
    const PassOrder back = probe_order(top, Direction::reverse, reverse_long, run_up_s_);
    const auto reverse = co_await probe_pass(back);
    const PassOrder onwards = probe_order(top, Direction::forward, forward_long, run_up_s_);
    const auto forward = co_await probe_pass(onwards);
    if (!reverse || !forward) throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
    const double reverse_off = reverse->speed_mm_s / unit_mm_s_ - reverse_long;
    const double forward_off = forward->speed_mm_s / unit_mm_s_ - forward_long;
    const bool settled = std::abs(0.5 * (reverse_off + forward_off)) < 0.2 * tolerance;
    const double extra = settled ? 0.0 : unsettled_sd * top_units;
    observe(sheet_.drive_at(top, Direction::reverse), Direction::reverse, *reverse, extra);
    observe(sheet_.drive_at(top, Direction::forward), Direction::forward, *forward, extra);
    if (settled) break;
    run_up_s_ *= 1.5;
  }
}

asio::awaitable<std::optional<bool>> Tuner::probe_effect(Direction direction) {
  const int top = top_step(order_.mode);
  const Query now{sheet_.drive_at(top, direction), direction};
  const double reference = sheet_.response().reading(now, motion_.running_s()).mean;
  PassOrder pass = probe_order(top, direction, lowered_share * reference, run_up_s_ / lowered_share);
  pass.reckoning_error = 1 / lowered_share - 1;  // the value may not act: then it runs at the full speed, and so far
  const std::optional<PassReading> reading = co_await probe_pass(pass);
  if (!reading) co_return std::nullopt;
  const double share = reading->speed_mm_s / unit_mm_s_ / reference;
  if (share > acts_below && share < idle_above) co_return std::nullopt;
  co_return share <= acts_below;
}

asio::awaitable<void> Tuner::probe_traits() {
  observer_.phase("trying what the decoder obeys");
  Traits& traits = sheet_.traits();
  for (int attempt = 0; attempt < 2 && !traits.trims_act; ++attempt) {
    const int low = static_cast<int>(std::lround(128 * test_share));
    co_await put_trims(128, low);
    traits.trims_act = co_await probe_effect(Direction::reverse);
    co_await put_trims(128, 128);
  }
  for (int attempt = 0; attempt < 2 && !traits.table_scaled; ++attempt) {
    const int low = static_cast<int>(std::lround(255 * test_share));
    co_await put(cv::top_voltage, low);
    traits.table_scaled = co_await probe_effect(Direction::forward);
    co_await put(cv::top_voltage, 255);
  }
  if (!traits.trims_act) remarks_.emplace_back("whether the trims act could not be decided; they are left at 128");
  if (!traits.table_scaled)
    remarks_.emplace_back("whether CV5 scales the table could not be decided; it is left at 255");
  refresh_book();
}

asio::awaitable<void> Tuner::probe_at(double speed, Direction direction) {
  const int top = top_step(order_.mode);
  const int step = step_near(speed);
  const int entry = static_cast<int>(std::lround(table_position(order_.mode, step)));
  const int probe_step = order_.mode == StepMode::steps28 ? entry : step;
  const RisingCurve curve(sheet_.response(), direction);
  const double top_drive = sheet_.drive_at(top, direction);
  // However little is known yet: no engine runs at twice the speed that its share of the top drive would give.
  double drive = std::max(curve.drive(speed), 0.5 * top_drive * speed / top_units);
  for (int attempt = 0; attempt < tries_to_probe; ++attempt) {
    const int value = std::clamp(static_cast<int>(std::lround(drive)), 1, 255);
    const auto below = static_cast<std::size_t>(std::floor(table_position(order_.mode, probe_step))) - 1;
    sheet_.settings().table[below] = value;
    if (order_.mode != StepMode::steps28) sheet_.settings().table[std::min<std::size_t>(below + 1, 27)] = value;
    co_await put_step(probe_step);
    const double expected = std::max(curve.speed(value), 0.5 * speed);
    const PassOrder pass = probe_order(probe_step, direction, expected, run_up_s_);
    const PassReading reading = co_await probe_once(pass);
    if (usable(reading)) {
      observe(sheet_.drive_at(probe_step, direction), direction, reading, 0);
      refresh_book();
      co_return;
    }
    if (!may_have_stalled(reading)) continue;
    const Whereabouts found = co_await recover(direction);
    if (found == Whereabouts::before_the_gate) drive += 0.3 * (top_drive - drive);
    if (found == Whereabouts::lost)
      throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
  }
}

asio::awaitable<void> Tuner::probe_below() {
  observer_.phase("probing the lower half");
  co_await probe_at(9, opposite(last_direction_));
  co_await probe_at(below_units, opposite(last_direction_));
  co_await probe_at(below_units, opposite(last_direction_));
}

}  // namespace lapwright
