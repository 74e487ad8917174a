#include "drivers/simulated/truth.h"

#include <algorithm>
#include <cmath>
#include <vector>

#include "drivers/dcc/speed.h"
#include "tuning/cv.h"

namespace lapwright::simulated {

namespace {

constexpr double step_s = 0.001;
constexpr double settle_s = 4;
constexpr double hold_s = 0.1;
constexpr double clear_mm = 2;    // of the buffers
constexpr double run_up_s = 1.0;  // after the jump to the reference: friction there is a little different
constexpr double least_run_up_mm = 4;
constexpr int wheel_turns = 4;  // starting angles to average over
constexpr double stall_s = 3;
constexpr double window_s = 0.05;
constexpr std::uint64_t settling_runs = 12;
constexpr std::size_t mean_over = 4;  // windows
constexpr double settling_limit_s = 10;
constexpr int time_out = 11;

double sign_of(Direction direction) { return direction == Direction::forward ? 1 : -1; }

void run(Engine& engine, Decoder& decoder, double length_s) {
  const int steps = static_cast<int>(std::lround(length_s / step_s));
  for (int step = 0; step < steps; ++step)
    engine.advance(step_s, decoder.advance(step_s, engine.back_emf_share()), true);
}

/// Runs in one place until the speed is steady. On a shuttle the buffers would come before.
void settle(Engine& engine, Decoder& decoder) {
  const double at_mm = engine.position_mm();
  for (double done_s = 0; done_s < settle_s; done_s += hold_s) {
    run(engine, decoder, hold_s);
    engine.move_to(at_mm, 0);
  }
}

/// The value and the trim (at least 1) that come closest to a share: a table entry alone has 8 bits only.
std::pair<int, int> value_and_trim(double share) {
  std::pair<int, int> best{0, 128};
  double closest = 2;
  for (int trim = 255; trim >= 32; --trim) {
    const int value = std::clamp(static_cast<int>(std::lround(share * 255 * 128 / trim)), 0, 255);
    const double off = std::abs(value * trim / (255.0 * 128.0) - share);
    if (off < closest) {
      closest = off;
      best = {value, trim};
    }
  }
  return best;
}

}  // namespace

Truth::Truth(const EngineDescription& engine, const Track& track, double track_volts, Reference reference)
    : description_(engine),
      track_(track),
      track_volts_(track_volts),
      reference_(reference),
      finest_((1 << engine.decoder.drive_bits) - 1) {
  // These only decide which levels a tuner can reach; here any level is to be set.
  description_.decoder.table_scaled = false;
  description_.decoder.table_implemented = true;
  description_.decoder.trims_act = true;
  description_.decoder.drive_cut_off = false;
}

void Truth::set_drive(Decoder& decoder, double drive_share) const {
  const auto [value, trim] = value_and_trim(drive_share);
  decoder.set_cv(cv::table_entry(1), static_cast<std::uint8_t>(value));
  decoder.set_cv(cv::forward_trim, static_cast<std::uint8_t>(trim));
  decoder.set_cv(cv::reverse_trim, static_cast<std::uint8_t>(trim));
}

Decoder Truth::decoder_at(double drive_share, Direction direction) const {
  DecoderDescription plain = description_.addressed_decoder();
  const bool is_long = is_long_address(description_.address);
  const auto address = is_long ? dcc::VehicleAddress::long_form(description_.address)
                               : dcc::VehicleAddress::short_form(description_.address);
  for (const int number : {cv::acceleration, cv::deceleration, cv::acceleration_adjustment, cv::kick_start,
                           cv::deceleration_adjustment, cv::consist_address, time_out}) {
    plain.cvs[number] = 0;
  }
  plain.cvs[cv::configuration] = static_cast<std::uint8_t>(0x12 | (is_long ? 0x20 : 0));  // 28 steps, table
  Decoder decoder(plain);
  set_drive(decoder, drive_share);
  decoder.receive(dcc::speed28(address, direction, 1));
  return decoder;
}

Engine Truth::warm_engine(const EngineDescription& description, double drive_share, Direction direction,
                          std::uint64_t seed) const {
  const double middle_mm = 0.5 * (reference_.from_mm + reference_.to_mm);
  Engine engine(description, track_, track_volts_, seed, middle_mm);
  engine.make_steady();
  engine.push(sign_of(direction) * drive_share * description.motor.top_speed_mm_s);
  return engine;
}

std::optional<double> Truth::pass_s(Engine& engine, Decoder& decoder, double wheel_turn, Direction direction) const {
  const double sign = sign_of(direction);
  const double entry_mm = direction == Direction::forward ? reference_.from_mm : reference_.to_mm;
  const double exit_mm = direction == Direction::forward ? reference_.to_mm : reference_.from_mm;
  const double run_up_mm = std::max(least_run_up_mm, run_up_s * std::abs(engine.speed_mm_s()));
  double start_mm = entry_mm - sign * run_up_mm;
  if (!track_.is_loop())
    start_mm = std::clamp(start_mm, description_.length_mm + clear_mm, track_.length_mm() - clear_mm);
  engine.move_to(start_mm, wheel_turn);
  double time_s = 0;
  double still_s = 0;
  double entered_s = 0;
  while (still_s < stall_s) {
    const double before_mm = sign * engine.position_mm();
    engine.advance(step_s, decoder.advance(step_s, engine.back_emf_share()), true);
    const double moved_mm = sign * engine.position_mm() - before_mm;
    still_s = moved_mm > 0 ? 0 : still_s + step_s;
    for (const bool entering : {true, false}) {
      const double left_mm = sign * (entering ? entry_mm : exit_mm) - before_mm;
      if (left_mm < 0 || left_mm >= moved_mm) continue;
      const double at_s = time_s + step_s * left_mm / moved_mm;
      if (!entering) return at_s - entered_s;
      entered_s = at_s;
    }
    time_s += step_s;
  }
  return std::nullopt;
}

double Truth::simulate(double drive_share, Direction direction) const {
  Decoder decoder = decoder_at(drive_share, direction);
  Engine engine = warm_engine(description_, drive_share, direction, 1);
  settle(engine, decoder);
  if (engine.speed_mm_s() == 0) return 0;
  double total_s = 0;
  for (int turn = 0; turn < wheel_turns; ++turn) {
    const auto time_s = pass_s(engine, decoder, static_cast<double>(turn) / wheel_turns, direction);
    if (!time_s) return 0;
    total_s += *time_s;
  }
  return wheel_turns * (reference_.to_mm - reference_.from_mm) / total_s;
}

double Truth::speed_mm_s(double drive_share, Direction direction) {
  const long level = std::lround(drive_share * finest_);
  if (level <= 0) return 0;
  const auto [place, fresh] = known_.try_emplace({level, direction}, 0.0);
  if (fresh) place->second = simulate(static_cast<double>(level) / finest_, direction);
  return place->second;
}

double Truth::speed_mm_s(const Decoder& decoder, ThrottleCommand command) {
  const Direction moves = decoder.inverted() ? opposite(command.direction) : command.direction;
  return speed_mm_s(decoder.drive_share(command), moves);
}

std::optional<double> Truth::settling_s(double from_share, double to_share, Direction direction, double within) {
  EngineDescription smooth = description_;
  smooth.ripple.eccentricity = smooth.ripple.wheel_friction = smooth.ripple.gear_friction = 0;
  // Many runs together and the mean of a few windows: the converter's flicker at a crawl is not unsettled speed.
  const auto windows = static_cast<std::size_t>(settling_limit_s / window_s);
  std::vector<double> run_mm(windows + 1, 0.0);
  for (std::uint64_t seed = 1; seed <= settling_runs; ++seed) {
    Decoder decoder = decoder_at(from_share, direction);
    Engine engine = warm_engine(smooth, from_share, direction, seed);
    settle(engine, decoder);
    set_drive(decoder, to_share);
    const double middle_mm = engine.position_mm();
    const double before_mm = engine.distance_mm();
    for (std::size_t window = 1; window <= windows; ++window) {
      run(engine, decoder, window_s);
      run_mm[window] += engine.distance_mm() - before_mm;
      engine.move_to(middle_mm, 0);
    }
  }
  const std::size_t half = windows / 2;
  const double goal_mm = (run_mm[windows] - run_mm[half]) / static_cast<double>(windows - half);
  if (goal_mm <= 0) return std::nullopt;
  std::size_t settled = windows;
  while (settled > mean_over) {
    const double mean_mm = (run_mm[settled] - run_mm[settled - mean_over]) / mean_over;
    if (std::abs(mean_mm - goal_mm) > within * goal_mm) break;
    --settled;
  }
  if (settled == windows) return std::nullopt;
  return settled <= mean_over ? 0 : (static_cast<double>(settled) - 0.5 * mean_over) * window_s;
}

}  // namespace lapwright::simulated
