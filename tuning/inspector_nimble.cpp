// Measuring without momentum: the shortest ways to and fro, and one end of the engine is enough.
#include <algorithm>

#include "tuning/inspector.h"
#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double sticky_units = 3.5;  // slower starts may stick
constexpr double push_units = 5;
constexpr double push_share = 1.6;
constexpr double in_doubt_share = 0.2;  // of tolerance, that a doubled edge may leave open

}  // namespace

/// It has just been timed, running forward.
void Inspector::hand_to_motion(double speed_mm_s) {
  motion_.use_trap(trap_);
  const bool against = trap_.low_gate != order_.trap.low_gate;
  motion_.set_limits(against ? order_.clear_above_mm : order_.clear_below_mm,
                     against ? order_.clear_below_mm : order_.clear_above_mm);
  for (const StepAim& aim : order_.steps) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      motion_.book().set(aim.step, direction, expected_mm_s(aim, direction));
    }
  }
  motion_.set_running_s(running_s());
  const double since_s = second_head_ ? in_seconds(clock_.now() - *second_head_) : 0;
  located_mm_ = (trap_.times_laps() ? 0 : trap_.base_mm) + speed_mm_s * since_s;
}

asio::awaitable<bool> Inspector::measure_nimbly(Inspected& cell) {
  if (located_mm_) {
    const double speed_mm_s = motion_.book().get(step_, direction_);
    co_await motion_.command(step_, direction_, speed_mm_s);
    motion_.set_position(*located_mm_);
    located_mm_.reset();
  }
  PassOrder pass;
  pass.step = cell.aim.step;
  pass.direction = cell.direction;
  pass.expected_mm_s = expected_mm_s(cell.aim, cell.direction);
  if (order_.earlier) {
    pass.run_up_s = order_.earlier->response.run_up_s * run_up_share(cell.aim.speed_mm_s, cell.aim.tolerance_mm_s,
                                                                     order_.top_mm_s, order_.top_tolerance_mm_s);
  }
  const double units = cell.aim.speed_mm_s / unit_mm_s_;
  if (units < sticky_units) pass.kick_mm_s = std::max(push_units, push_share * units) * unit_mm_s_;
  direction_ = cell.direction;
  const PassReading reading = co_await motion_.pass(pass);
  if (reading.trouble == PassTrouble::none) {
    if (reading.doubt_mm_s > in_doubt_share * cell.aim.tolerance_mm_s) co_return false;
    co_return note(cell, reading.speed_mm_s, reading.running_s);
  }
  if (knows_its_place(reading.trouble)) co_return false;
  const Whereabouts found = co_await motion_.recover(cell.direction);
  if (found == Whereabouts::lost) {
    throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
  }
  co_return false;
}

}  // namespace lapwright
