// The decoder before the first movement: momentum off, known values where the work depends on them.
#include <algorithm>
#include <cmath>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

std::vector<Aim> in_units(const TuneOrder& order, double unit_mm_s) {
  std::vector<Aim> result;
  for (const StepAim& aim : order.aims) {
    result.push_back(Aim{aim.step, aim.speed_mm_s / unit_mm_s, aim.tolerance_mm_s / unit_mm_s, aim.prove});
  }
  return result;
}

constexpr double slowest_sprint = 0.7;  // units
constexpr double fastest_sprint = 24;

double model_unit_mm_s(const TuneOrder& order) { return order.aims.back().speed_mm_s / 18.0; }

}  // namespace

Tuner::Tuner(Rig& rig, Clock& clock, const TuneOrder& order, CvLedger& ledger, TuneObserver& observer)
    : rig_(rig),
      clock_(clock),
      order_(order),
      ledger_(ledger),
      observer_(observer),
      unit_mm_s_(model_unit_mm_s(order)),
      sheet_(order.mode, in_units(order, unit_mm_s_), order.confidence, order.trap.base_error_mm / order.trap.base_mm),
      motion_(rig, clock, order.track, order.mode),
      trap_(order.trap),
      before_(order.before),
      replaying_(!order.before.empty()),
      live_since_(clock.now()) {
  motion_.use_trap(trap_);
  motion_.set_limits(order.clear_below_mm, order.clear_above_mm);
  sheet_.traits() = order.traits;
  told_.resize(sheet_.cells().size(), Verdict::not_measured);
}

asio::awaitable<std::optional<std::uint8_t>> Tuner::ask(int number) {
  if (const std::optional<std::uint8_t> known = ledger_.known(number)) co_return known;
  if (const auto stated = order_.known_cvs.find(number); stated != order_.known_cvs.end()) co_return stated->second;
  if (silent_) co_return std::nullopt;
  const std::optional<std::uint8_t> answer = co_await rig_.read_cv(number);
  if (answer) {
    ledger_.found(number, *answer);
  } else {
    silent_ = true;
  }
  co_return answer;
}

asio::awaitable<void> Tuner::learn_momentum(int number) {
  const std::optional<std::uint8_t> held = co_await ask(number);
  if (held) co_return;
  const std::string name = "CV" + std::to_string(number);
  throw TuneStopped{TuneEnd::unknown_momentum,
                    name +
                        " can't be read from this decoder and the engine's record does not state it, so it could "
                        "not be put back after the work. Add its value to the record"};
}

asio::awaitable<void> Tuner::lend_zero(int number) {
  const std::optional<std::uint8_t> held = co_await ask(number);
  if (!held) unknown_.push_back("CV" + std::to_string(number));
  if (!held || *held == 0) co_return;
  co_await ledger_.lend(rig_, number, 0, *held);
}

asio::awaitable<void> Tuner::prepare_decoder() {
  if (replaying_) observer_.recalls(true);
  observer_.phase("preparing the decoder");
  for (const int number : {cv::acceleration, cv::deceleration}) co_await learn_momentum(number);
  for (const int number : {cv::consist_address, cv::acceleration, cv::deceleration, cv::acceleration_adjustment,
                           cv::deceleration_adjustment, cv::kick_start}) {
    co_await lend_zero(number);
  }
  if (!unknown_.empty()) {
    std::string names;
    for (const std::string& name : unknown_) names += (names.empty() ? "" : ", ") + name;
    remarks_.push_back("not known and left as found: " + names +
                       ". If they are not 0 they may have disturbed the work: state them in the engine's record");
  }
  if (knows_the_engine()) co_return;
  // The table alone has to fix the speed: CV2 and CV5 may or may not scale it, the trims may or may not act.
  co_await put(cv::start_voltage, 0);
  co_await put(cv::top_voltage, 255);
  co_await put_trims(128, 128);
  if (!sheet_.traits().table_enabled.value_or(false)) {
    const CvWriteReply reply = co_await ledger_.set_bit(rig_, cv::configuration, cv::table_bit);
    if (reply != CvWriteReply::unsupported) co_return;
    TuneStopped unknown{
        TuneEnd::table_not_enabled,
        "the station writes no single bits of CVs, and the other bits of the decoder's CV29 are not known: "
        "add its CV29 to the engine's record"};
    co_await enable_table(std::move(unknown));
  }
}

asio::awaitable<void> Tuner::put(int number, int value) {
  put_[number] = static_cast<std::uint8_t>(value);
  if (!replaying_) co_await ledger_.write(rig_, number, put_[number]);
}

asio::awaitable<void> Tuner::put_trims(int forward, int reverse) {
  sheet_.settings().trim = {forward, reverse};
  co_await put(cv::forward_trim, forward);
  co_await put(cv::reverse_trim, reverse);
}

asio::awaitable<void> Tuner::put_entry(int entry) {
  const int value = sheet_.settings().table[static_cast<std::size_t>(entry - 1)];
  co_await put(cv::table_entry(entry), value);
}

asio::awaitable<void> Tuner::put_step(int step) {
  const double position = table_position(order_.mode, step);
  const int below = static_cast<int>(std::floor(position + 1e-9));
  const int above = std::min(static_cast<int>(std::ceil(position - 1e-9)), cv::table_entries);
  co_await put_entry(below);
  if (above != below) co_await put_entry(above);
}

std::optional<double> Tuner::written_drive(int step, Direction direction) const {
  DriveSettings written = sheet_.settings();
  const double position = table_position(order_.mode, step);
  const int below = static_cast<int>(std::floor(position + 1e-9));
  const int above = std::min(static_cast<int>(std::ceil(position - 1e-9)), cv::table_entries);
  for (int entry = below; entry <= above; ++entry) {
    const auto held = put_.find(cv::table_entry(entry));
    if (held == put_.end()) return std::nullopt;
    written.table[static_cast<std::size_t>(entry - 1)] = held->second;
  }
  return drive_of_value(sheet_.traits(), written, value_of_step(written, order_.mode, step), direction);
}

void Tuner::refresh_book() {
  for (int step = 1; step <= top_step(order_.mode); ++step) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      const std::optional<double> drive = written_drive(step, direction);
      const bool usable = drive && !sheet_.slow_end().stalls(Query{*drive, direction});
      double speed = usable ? sheet_.response().curve(Query{*drive, direction}) : 0.0;
      // Never on a step that the model only guesses to be slow: it may not move at all.
      if (speed < slowest_sprint || speed > fastest_sprint) speed = 0;
      motion_.book().set(step, direction, speed * unit_mm_s_);
    }
  }
}

void Tuner::check_budget() const {
  if (spent_s() < order_.budget_s) return;
  throw TuneStopped{TuneEnd::budget_spent,
                    "the track time allowed for this engine is spent; the steps settled so far stand"};
}

}  // namespace lapwright
