// How a simulated decoder drives the motor: speed curve, trims, momentum, kick start and packet time-out.
#include <algorithm>
#include <cmath>
#include <cstdlib>

#include "drivers/dcc/cv_meaning.h"
#include "drivers/simulated/decoder.h"
#include "tuning/cv.h"

namespace lapwright::simulated {
namespace {

constexpr int packet_time_out = 11;
constexpr int mid_position = 25;
constexpr double full = 255;
constexpr double lost_digits = 1e-9;  // what firmware computes in integers is exact

// CV65 adds CV65/255 of the supply for this long after the engine leaves standstill. The standard fixes no unit.
constexpr double kick_s = 0.1;

/// 1 … 28 on the scale of the speed table; no standard says how other step modes fall onto it, a line is usual.
double table_position(int step, int steps_in_use) { return 1.0 + (step - 1) * 27.0 / (steps_in_use - 1); }

}  // namespace

double Decoder::drive_share(ThrottleCommand command) const {
  if (command.step <= 0) return 0;
  const int steps = top_step(command.mode);
  const auto consist = dcc::read_consist(cv(cv::consist_address), cv(20));
  const bool forward = (command.direction == Direction::forward) != (consist && consist->reversed);
  return share_at(std::min(command.step, steps), steps, forward);
}

double Decoder::share_at(int step, int steps_in_use, bool forward) const {
  double level = curve_level(table_position(step, steps_in_use));
  if (traits_.trims_act && memory_.bit(cv::configuration, cv::table_bit)) {
    level *= dcc::trim_factor(cv(forward ? cv::forward_trim : cv::reverse_trim));
  }
  const double finest = (1 << traits_.drive_bits) - 1;
  const double wanted = std::clamp(level / full, 0.0, 1.0) * finest;
  return (traits_.drive_cut_off ? std::floor(wanted + lost_digits) : std::round(wanted)) / finest;
}

/// Level 0 … 255 at a position 1 … 28 of the table.
double Decoder::curve_level(double position) const {
  const double start = cv(cv::start_voltage);
  const double top = cv(cv::top_voltage) > 1 ? cv(cv::top_voltage) : full;  // 0 and 1: not used
  if (memory_.bit(cv::configuration, cv::table_bit)) {
    const int lower = std::min(static_cast<int>(position), cv::table_entries - 1);
    const double from = cv(cv::table_entry(lower));
    const double entry = from + (cv(cv::table_entry(lower + 1)) - from) * (position - lower);
    return traits_.table_scaled ? start + (top - start) * entry / full : entry;
  }
  const double mid = cv(cv::mid_voltage);
  const int place = cv(mid_position);
  const double middle = place > 128 && place <= 154 ? place - 128 : 14;
  if (mid <= 1 || middle <= 1) return start + (top - start) * (position - 1) / 27;
  if (position < middle) return start + (mid - start) * (position - 1) / (middle - 1);
  return mid + (top - mid) * (position - middle) / (28 - middle);
}

void Decoder::aim(int signed_step, int steps_in_use) {
  if (steps_in_use != steps_in_use_) {
    const double same_speed = static_cast<double>(step_) * steps_in_use / steps_in_use_;
    const int moving = step_ > 0 ? 1 : -1;
    step_ = step_ == 0 ? 0 : moving * std::max(1, std::abs(static_cast<int>(std::lround(same_speed))));
    steps_in_use_ = steps_in_use;
    aim_ = signed_step;
    cv_changed();
  }
  aim_ = signed_step;
}

void Decoder::stop_at_once() {
  aim_ = 0;
  step_ = 0;
  since_step_s_ = 0;
  kick_left_s_ = 0;
  step_changed();
}

void Decoder::cv_changed() {
  time_out_s_ = dcc::packet_time_out_s(cv(packet_time_out)).value_or(std::numeric_limits<double>::infinity());
  gather_s_per_step_ = dcc::momentum_s_per_step(cv(cv::acceleration), cv(cv::acceleration_adjustment), steps_in_use_);
  brake_s_per_step_ = dcc::momentum_s_per_step(cv(cv::deceleration), cv(cv::deceleration_adjustment), steps_in_use_);
  step_changed();
}

void Decoder::step_changed() {
  drive_share_ = step_ == 0 ? 0 : share_at(std::abs(step_), steps_in_use_, step_ > 0);
  const double sign = (step_ > 0) != memory_.bit(cv::configuration, 0) ? 1 : -1;
  if (step_ == 0 || sign != motor_sign_) regulator_.release();
  motor_sign_ = sign;
}

void Decoder::follow_momentum(double dt_s) {
  const int before = step_;
  since_step_s_ += dt_s;
  while (step_ != aim_) {
    const int next = aim_ > step_ ? step_ + 1 : step_ - 1;
    const bool gathers = std::abs(next) > std::abs(step_);
    const double needed_s = gathers ? gather_s_per_step_ : brake_s_per_step_;
    if (needed_s <= 0) {
      const bool through_standstill = !gathers && (aim_ > 0) != (step_ > 0);
      step_ = through_standstill ? 0 : aim_;
      continue;
    }
    if (since_step_s_ < needed_s) break;
    since_step_s_ -= needed_s;
    step_ = next;
  }
  if (step_ == aim_) since_step_s_ = 0;
  if (step_ == before) return;
  if (before == 0 && cv(cv::kick_start) > 0) kick_left_s_ = kick_s;
  step_changed();
}

double Decoder::advance(double dt_s, double back_emf_share) {
  silence_s_ += dt_s;
  if (silence_s_ >= time_out_s_) {
    functions_.reset();
    if (step_ != 0 || aim_ != 0) stop_at_once();
  }
  if (step_ != aim_) follow_momentum(dt_s);
  if (step_ == 0) return 0;
  double share = drive_share_;
  if (kick_left_s_ > 0) {
    // The regulator waits meanwhile, or it would take the kick away.
    kick_left_s_ -= dt_s;
    share = std::min(1.0, share + cv(cv::kick_start) / full);
  } else if (traits_.regulated) {
    share = regulator_.advance(dt_s, drive_share_, back_emf_share * motor_sign_);
  }
  return motor_sign_ * share;
}

}  // namespace lapwright::simulated
