#include "tests/shifts/night.h"

#include <algorithm>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/system/system_error.hpp>
#include <cmath>
#include <exception>
#include <stdexcept>
#include <utility>

namespace lapwright::shifts {
namespace asio = boost::asio;
namespace {

simulated::Reference reference(const Plan& plan, const simulated::Track& track) {
  const Trap& trap = plan.order.trap;
  const double low_mm = track.gates_mm()[static_cast<std::size_t>(trap.low_gate)];
  if (trap.times_laps()) return {low_mm, low_mm + track.length_mm()};
  const double high_mm = track.gates_mm()[static_cast<std::size_t>(trap.high_gate)];
  return {std::min(low_mm, high_mm), std::max(low_mm, high_mm)};
}

}  // namespace

/// Passes everything on and counts the writes of each CV.
class Night::CountingRig : public Rig {
 public:
  CountingRig(Rig& rig, std::map<int, int>& writes) : rig_(rig), writes_(writes) {}
  asio::awaitable<void> drive(ThrottleCommand command) override { return rig_.drive(command); }
  asio::awaitable<void> halt() override { return rig_.halt(); }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    ++writes_[cv];
    return rig_.write_cv(cv, value);
  }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override {
    ++writes_[cv];
    return rig_.write_cv_bit(cv, bit, value);
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override { return rig_.read_cv(cv); }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override { return rig_.next_edge(deadline); }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return rig_.track_current_mA(); }

 private:
  Rig& rig_;
  std::map<int, int>& writes_;
};

Night::Night(Plan plan)
    : plan_(std::move(plan)), rig_(plan_.railway, plan_.engine, clock_, plan_.seed), first_(rig_.decoder()) {
  asio::co_spawn(context_, rig_.run(), [](const std::exception_ptr& error) {
    if (error) std::rethrow_exception(error);
  });
}

void Night::run(asio::awaitable<void> procedure, double limit_s) {
  std::exception_ptr trouble;
  bool done = false;
  asio::co_spawn(context_, std::move(procedure), [&](const std::exception_ptr& error) {
    trouble = error;
    done = true;
  });
  // In slices, because the railway itself never ends.
  constexpr double slice_s = 20;
  for (double spent_s = 0; !done && spent_s < limit_s; spent_s += slice_s) clock_.run(context_, seconds(slice_s));
  if (trouble) std::rethrow_exception(trouble);
  if (!done) throw std::runtime_error("the procedure was not through after " + std::to_string(limit_s) + " s");
}

void Night::tune(double limit_s) {
  CountingRig counting(rig_, writes_);
  const auto procedure = [&]() -> asio::awaitable<void> {
    result_ = co_await lapwright::tune(counting, clock_, plan_.order, ledger_, diary_);
  };
  run(procedure(), limit_s);
}

bool Night::tune_and_cancel(double after_s) {
  CountingRig counting(rig_, writes_);
  asio::cancellation_signal cancel;
  bool done = false;
  bool cancelled = false;
  asio::co_spawn(context_, lapwright::tune(counting, clock_, plan_.order, ledger_, diary_),
                 asio::bind_cancellation_slot(cancel.slot(), [&](const std::exception_ptr& error, TuneResult) {
                   done = true;
                   cancelled = error != nullptr;
                 }));
  clock_.run(context_, seconds(after_s));
  if (done) return false;
  cancel.emit(asio::cancellation_type::terminal);
  clock_.run(context_, seconds(1));
  if (!done) throw std::runtime_error("a cancelled tune went on for a second");
  return cancelled;
}

void Night::lose_power(double away_s) {
  rig_.set_power(false);
  clock_.run(context_, seconds(away_s));
  rig_.set_power(true);
}

void Night::take_decoder_of(Night& night) {
  for (int number = 1; number <= 256; ++number) {
    rig_.decoder().set_cv(number, static_cast<std::uint8_t>(night.cv(number)));
  }
  for (const int number : {cv::acceleration, cv::deceleration}) rig_.decoder().set_cv(number, 0);
}

InspectionOrder Night::inspection_of(const std::vector<int>& steps) const {
  InspectionOrder order;
  for (const int step : steps) order.steps.push_back(plan_.order.aims[static_cast<std::size_t>(step - 1)]);
  order.top_mm_s = plan_.order.aims.back().speed_mm_s;
  order.top_tolerance_mm_s = plan_.order.aims.back().tolerance_mm_s;
  order.track = plan_.order.track;
  order.trap = plan_.order.trap;
  order.clear_below_mm = plan_.order.clear_below_mm;
  order.clear_above_mm = plan_.order.clear_above_mm;
  return order;
}

void Night::check(const std::vector<int>& steps, const Momentum& momentum) {
  InspectionOrder order = inspection_of(steps);
  order.momentum = momentum;
  CountingRig counting(rig_, writes_);
  const auto procedure = [&]() -> asio::awaitable<void> {
    result_ = co_await lapwright::inspect(counting, clock_, order, diary_);
  };
  run(procedure(), 3600);
}

void Night::prove(const std::vector<int>& steps) {
  InspectionOrder order = inspection_of(steps);
  order.earlier = plan_.order.earlier;
  order.all_or_nothing = true;
  CountingRig counting(rig_, writes_);
  const auto procedure = [&]() -> asio::awaitable<void> {
    result_ = co_await lapwright::inspect(counting, clock_, order, diary_);
  };
  run(procedure(), 3600);
  plan_.order.proof = result_.left;
}

void Night::remember(double away_s) {
  go_on_from(diary_.heard_of_track);
  plan_.order.away_s = away_s;
  CvMemory debts;
  debts.owed = ledger_.owed();
  ledger_ = CvLedger(debts, nullptr);
}

void Night::settle() {
  CountingRig counting(rig_, writes_);
  run(ledger_.settle(counting), 600);
}

int Night::writes_of(int number) const {
  const auto place = writes_.find(number);
  return place == writes_.end() ? 0 : place->second;
}

int Night::most_writes_of_one_cv() const {
  int most = 0;
  for (const auto& [number, count] : writes_) most = std::max(most, count);
  return most;
}

double Night::true_speed_mm_s(int step, Direction direction) {
  if (!truth_) {
    const simulated::Track& track = rig_.railway().track();
    truth_.emplace(plan_.engine, track, rig_.railway().track_volts(), reference(plan_, track));
  }
  simulated::Decoder alone = rig_.decoder();
  alone.set_cv(cv::consist_address, 0);
  return truth_->speed_mm_s(alone, ThrottleCommand{step, direction, plan_.order.mode});
}

double Night::true_speed_with(int value, int step, Direction direction) {
  const int entry = cv::table_entry(step);
  const std::uint8_t held = rig_.decoder().cv(entry);
  rig_.decoder().set_cv(entry, static_cast<std::uint8_t>(value));
  const double speed = true_speed_mm_s(step, direction);
  rig_.decoder().set_cv(entry, held);
  return speed;
}

double Night::true_error(const CellResult& cell) {
  return std::abs(true_speed_mm_s(cell.step, cell.direction) - cell.target_mm_s) / cell.tolerance_mm_s;
}

double Night::true_error_with(int value, const CellResult& cell) {
  double worst = 0;
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const double speed = true_speed_with(value, cell.step, direction);
    worst = std::max(worst, std::abs(speed - cell.target_mm_s) / cell.tolerance_mm_s);
  }
  return worst;
}

}  // namespace lapwright::shifts
