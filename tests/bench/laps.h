// Reading a speed the way people do: a whole lap at the commanded step, then the time through the trap.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <map>
#include <optional>

#include "tests/bench/outcome.h"
#include "tests/bench/world.h"
#include "tuning/edge_filter.h"

namespace lapwright::bench {

/// A person at the track: sees where the engine is, whether it stands and roughly how fast it creeps.
class LapReader {
 public:
  LapReader(World& world, const Stage& stage);

  /// Momentum off, trims neutral, table on; what a person does on the programming track first. Costs no track time.
  void prepare_decoder();
  boost::asio::awaitable<void> write(int cv, int value);
  /// One lap at the step, timed over the trap at its end. Given up when the engine stands (0), or creeps three times
  /// slower than wanted: then its speed is judged by eye. A lost edge costs one more lap.
  boost::asio::awaitable<double> lap(int step, Direction direction, double wanted_mm_s);

  [[nodiscard]] int passes() const { return passes_; }
  [[nodiscard]] int writes() const { return writes_; }

 private:
  struct Crossing {
    std::optional<double> entry_s;
    std::optional<double> exit_s;
  };
  void note(const Passage& passage, Direction direction, Crossing& crossing) const;

  World& world_;
  Trap trap_;
  double track_mm_;
  EdgeFilter filter_;
  std::map<int, int> held_;
  double least_travel_mm_ = 0;  // before the trap counts: none from where the engine is set down, then half a lap
  int passes_ = 0;
  int writes_ = 0;
};

/// Shared by the practices: one step's value tried by laps, first forward, then in reverse when forward was good.
struct ValueTrial {
  double forward_mm_s = 0;
  std::optional<double> reverse_mm_s;
  bool good = false;  ///< both directions read in tolerance
  /// Mean of what was read.
  [[nodiscard]] double mean_mm_s() const { return reverse_mm_s ? 0.5 * (forward_mm_s + *reverse_mm_s) : forward_mm_s; }
};
boost::asio::awaitable<ValueTrial> try_value(LapReader& reader, const StepAim& aim, int value);

/// One step's outcome: accepted or given up, in both directions.
void claim(Outcome& outcome, int step, bool accepted);

}  // namespace lapwright::bench
