#include <vector>

#include "tests/bench/laps.h"
#include "tests/bench/strategies.h"

namespace lapwright::bench {
namespace asio = boost::asio;
namespace {

/// Each step alone: the interval between the values below and above is halved until both directions read well.
class Bisection {
 public:
  Bisection(World& world, const Stage& stage) : aims_(slow_freight(stage.engine)), reader_(world, stage) {}

  asio::awaitable<void> run() {
    reader_.prepare_decoder();
    const int top = co_await settle_step(28, 0, 255);
    int below = co_await settle_step(1, 0, top);
    for (int step = 2; step < 28; ++step) {
      const int value = co_await settle_step(step, below, top);
      below = value;
    }
    outcome.passes = reader_.passes();
    outcome.writes = reader_.writes();
  }

  Outcome outcome;

 private:
  asio::awaitable<int> settle_step(int step, int low, int high) {
    const StepAim& aim = aims_[static_cast<std::size_t>(step - 1)];
    bool good = false;
    int value = high;
    while (!good && low <= high) {
      value = (low + high) / 2;
      const ValueTrial trial = co_await try_value(reader_, aim, value);
      good = trial.good;
      if (good) break;
      if (trial.mean_mm_s() < aim.speed_mm_s) {
        low = value + 1;
      } else {
        high = value - 1;
      }
    }
    claim(outcome, step, good);
    co_return value;
  }

  std::vector<StepAim> aims_;
  LapReader reader_;
};

}  // namespace

Outcome run_bisection(World& world, const Stage& stage) {
  Bisection work(world, stage);
  world.run(work.run(), patient_limit_s);
  work.outcome.track_s = world.now_s();
  return work.outcome;
}

}  // namespace lapwright::bench
