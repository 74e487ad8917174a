// One night of one engine on the simulated railway: what is set up, what the tune left, and what is true of it.
#pragma once

#include <boost/asio/io_context.hpp>
#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "drivers/simulated/simulated_rig.h"
#include "drivers/simulated/truth.h"
#include "drivers/virtual_clock.h"
#include "tuning/inspection.h"
#include "tuning/tune.h"

namespace lapwright::shifts {

/// Everything that fixes a night; the same plan with the same seed replays it.
struct Plan {
  simulated::EngineDescription engine;
  simulated::RailwayDescription railway;
  TuneOrder order;
  std::uint64_t seed = 0;
};

/// What a tune tells.
struct Diary final : TuneObserver {
  std::vector<Heard> heard_of_track;
  std::vector<CellResult> verdicts;
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult& cell) override { verdicts.push_back(cell); }
  void progress(int, int) override {}
  void heard(const Heard& what) override { heard_of_track.push_back(what); }
};

class Night {
 public:
  explicit Night(Plan plan);
  /// Tunes to the end; the decoder is left as the tune left it. @throws what the tune throws, and std::runtime_error
  /// when it stalls or is not through within `limit_s` of track time
  void tune(double limit_s = 24 * 3600);
  /// Starts to tune and cancels after `after_s` of track time. @return false when the tune was through before
  bool tune_and_cancel(double after_s);
  /// The track is dead for so long.
  void lose_power(double away_s);
  /// The next tune goes on where the last one was broken off; of the decoder it knows the debts alone.
  void remember(double away_s);
  void go_on_from(const std::vector<Heard>& story) { plan_.order.before = story; }
  /// Another evening with this engine: its decoder holds what that night left, without momentum.
  void take_decoder_of(Night& night);
  /// Measures those steps with what the order knows of an earlier session; the tune after it goes on from there.
  void prove(const std::vector<int>& steps);
  [[nodiscard]] const Diary& diary() const { return diary_; }
  /// Measures those steps without writing, with the momentum that the decoder holds.
  void check(const std::vector<int>& steps, const Momentum& momentum);
  /// Pays what the ledger owes, in a coroutine of its own, as the daemon does after every end.
  void settle();

  [[nodiscard]] const TuneResult& result() const { return result_; }
  [[nodiscard]] StepMode mode() const { return plan_.order.mode; }
  [[nodiscard]] CvLedger& ledger() { return ledger_; }
  [[nodiscard]] simulated::SimulatedRig& rig() { return rig_; }
  [[nodiscard]] int cv(int number) { return rig_.decoder().cv(number); }
  [[nodiscard]] int cv_at_first(int number) const { return first_.cv(number); }
  [[nodiscard]] int writes_of(int number) const;
  [[nodiscard]] int most_writes_of_one_cv() const;

  /// Noise-free steady speed, in mm/s, over the true trap (or lap), with what is in the decoder now.
  [[nodiscard]] double true_speed_mm_s(int step, Direction direction);
  /// The same with another value in the step's table entry. 28-step mode.
  [[nodiscard]] double true_speed_with(int value, int step, Direction direction);
  /// Error of a cell by truth, as a share of its tolerance.
  [[nodiscard]] double true_error(const CellResult& cell);
  /// The larger error of both directions, with another value in the cell's table entry. 28-step mode.
  [[nodiscard]] double true_error_with(int value, const CellResult& cell);

 private:
  class CountingRig;
  void run(boost::asio::awaitable<void> procedure, double limit_s);
  [[nodiscard]] InspectionOrder inspection_of(const std::vector<int>& steps) const;

  Plan plan_;
  VirtualClock clock_;
  boost::asio::io_context context_{1};
  simulated::SimulatedRig rig_;
  simulated::Decoder first_;  ///< as found
  CvLedger ledger_;
  Diary diary_;
  TuneResult result_;
  std::map<int, int> writes_;
  std::optional<simulated::Truth> truth_;
};

}  // namespace lapwright::shifts
