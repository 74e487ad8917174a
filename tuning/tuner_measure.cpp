// One pass of a step: how it is ordered, what is made of its reading, and whether the lowest step starts the engine.
#include <algorithm>
#include <cmath>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double kick_below_units = 3.5;  // slower starts from rest may stick
constexpr double kick_units = 5;
constexpr double kick_share = 1.6;
constexpr double doubt_share = 0.2;  // of tolerance that a doubled edge may leave open
constexpr int start_trials = 2;
constexpr int unmeasured_trials = 5;  // of a value that is the lowest one's only in the end

/// Speed of the push that a start needs, in units; 0: none.
double kick(double speed, bool sticks) {
  if (speed >= kick_below_units && !sticks) return 0;
  return std::max(kick_units, kick_share * speed);
}

}  // namespace

PassOrder Tuner::order_for(const Cell& cell) const {
  const Aim& aim = sheet_.aim(cell);
  const Query query{sheet_.drive_of(cell), cell.direction};
  const Estimate reading = sheet_.response().reading(query, motion_.running_s());
  PassOrder order;
  order.step = aim.step;
  order.direction = cell.direction;
  const double expected = std::max(reading.mean, 0.5 * aim.speed);
  order.expected_mm_s = expected * unit_mm_s_;
  // The lowest step is first tried as it will be used on the layout, from rest and without help.
  order.from_rest = sheet_.is_lowest(cell) && !starts_.known(cell.direction, query.drive);
  if (!order.from_rest) order.kick_mm_s = kick(expected, cell.sticks) * unit_mm_s_;
  const EntryAim& top = sheet_.entry_aims().back();
  order.run_up_s = run_up_s_ * run_up_share(aim.speed, aim.tolerance, top.speed, top.tolerance);
  const bool sure = reading.sd < 0.15 * expected;
  order.patience = sure ? 1.35 : 2.2;
  return order;
}

asio::awaitable<void> Tuner::measure(std::size_t place) {
  const PassOrder pass = order_for(sheet_.cells()[place]);
  const PassReading reading = co_await take(pass);
  ++passes_;
  ++sheet_.cell(place).fruitless;
  last_direction_ = pass.direction;
  const double drive = sheet_.drive_of(sheet_.cells()[place]);
  if (reading.trouble == PassTrouble::none) {
    if (pass.from_rest) starts_.note(pass.direction, drive, true);
    note_reading(place, reading);
    co_return;
  }
  ++rejected_;
  if (knows_its_place(reading.trouble)) co_return;
  const Whereabouts found = co_await recover(pass.direction);
  if (found == Whereabouts::before_the_gate) note_standstill(place, pass, drive);
  if (found == Whereabouts::lost)
    throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
}

void Tuner::note_standstill(std::size_t place, const PassOrder& pass, double drive) {
  if (pass.from_rest) starts_.note(pass.direction, drive, false);
  // What needs a push to start may still run: only what stops although it was kicked is stalled.
  if (pass.kick_mm_s > 0) {
    sheet_.note_stall(place);
  } else {
    sheet_.cell(place).sticks = true;
  }
}

void Tuner::note_reading(std::size_t place, const PassReading& reading) {
  Cell& cell = sheet_.cell(place);
  const Aim& aim = sheet_.aim(cell);
  const double drive = sheet_.drive_of(cell);
  const double speed = reading.speed_mm_s / unit_mm_s_;
  const double doubt = reading.doubt_mm_s / unit_mm_s_;
  const Query query{drive, cell.direction};
  const Estimate expected = sheet_.response().reading(query, reading.running_s);
  const bool unlikely = std::abs(speed - expected.mean) > 6 * expected.sd + 0.12 * expected.mean + 0.1;
  // An unlikely reading that repeats is the truth, and the model was wrong.
  const bool repeated =
      rejected_place_ == place && (std::abs(speed - rejected_speed_) < 0.05 * speed || cell.fruitless > 2);
  if (doubt > doubt_share * aim.tolerance || (unlikely && !repeated)) {
    ++rejected_;
    if (unlikely) {
      rejected_place_ = place;
      rejected_speed_ = speed;
    }
    return;
  }
  rejected_place_.reset();
  cell.visited = true;
  cell.fruitless = 0;
  observe(drive, cell.direction, reading, 0.5 * doubt);
  observer_.pass(aim.step, cell.direction, reading.speed_mm_s);
}

void Tuner::observe(double drive, Direction direction, const PassReading& reading, double extra_sd) {
  const double timing = reading.timing_sd_mm_s / unit_mm_s_;
  sheet_.response().add(
      Observation{drive, direction, reading.speed_mm_s / unit_mm_s_, reading.running_s, std::hypot(timing, extra_sd)});
}

asio::awaitable<void> Tuner::try_starts() {
  for (std::size_t place = 0; place < sheet_.cells().size(); ++place) {
    if (!sheet_.is_lowest(sheet_.cells()[place]) || sheet_.cells()[place].rests_on_earlier) continue;
    for (int trial = 0; trial < unmeasured_trials; ++trial) {
      const Cell& cell = sheet_.cells()[place];
      const bool known = trial >= start_trials || starts_.known(cell.direction, sheet_.drive_of(cell));
      if (known && (cell.own_passes > 0 || cell.settled())) break;
      co_await put_step(sheet_.aim(cell).step);
      refresh_book();
      co_await measure(place);
      sheet_.judge();
    }
  }
}

}  // namespace lapwright
