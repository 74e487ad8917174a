#include <algorithm>
#include <cmath>

#include "tests/bench/laps.h"
#include "tests/bench/strategies.h"

namespace lapwright::bench {
namespace asio = boost::asio;
namespace {

constexpr int most_tries = 8;
constexpr int most_nudges = 80;    // of an engine that stands: raised by a tenth, or one, until it moves
constexpr double first_top = 255;  // as the decoder comes

/// The practice (common practice, no source), one step at a time.
class ByHand {
 public:
  ByHand(World& world, const Stage& stage) : aims_(slow_freight(stage.engine)), reader_(world, stage) {}

  asio::awaitable<void> run() {
    reader_.prepare_decoder();
    const double top = co_await settle_step(28, first_top);
    const double low = co_await settle_step(1, top / 18);
    for (int step = 2; step < 28; ++step) {
      // A straight line from the step below to the top is the worksheet's first guess.
      const double below = step == 2 ? low : last_;
      const double guess = below + (top - below) / (28 - (step - 1));
      co_await settle_step(step, guess);
    }
    outcome.passes = reader_.passes();
    outcome.writes = reader_.writes();
  }

  Outcome outcome;

 private:
  /// Corrects in proportion until both directions read well, or nothing changes any more. @return the value
  asio::awaitable<double> settle_step(int step, double guess) {
    const StepAim& aim = aims_[static_cast<std::size_t>(step - 1)];
    int value = static_cast<int>(std::clamp(std::round(guess), 1.0, 255.0));
    bool good = false;
    int nudges = 0;
    for (int tries = 0; tries < most_tries;) {
      const ValueTrial trial = co_await try_value(reader_, aim, value);
      good = trial.good;
      if (good) break;
      if (step == 28 && trial.reverse_mm_s && !trimmed_) {
        co_await trim(trial);
        continue;
      }
      const double speed = trial.mean_mm_s();
      int next = std::max(value + 1, static_cast<int>(std::lround(1.1 * value)));
      if (speed > 0) {
        ++tries;
        next = static_cast<int>(std::lround(value * aim.speed_mm_s / speed));
      } else if (++nudges > most_nudges) {
        break;
      }
      next = std::clamp(next, 1, 255);
      if (next == value) break;
      value = next;
    }
    last_ = value;
    claim(outcome, step, good);
    co_return value;
  }

  /// Once, at the top: reverse is brought to forward.
  asio::awaitable<void> trim(const ValueTrial& trial) {
    trimmed_ = true;
    const double wanted = 128 * trial.forward_mm_s / *trial.reverse_mm_s;
    const int value = static_cast<int>(std::clamp(std::round(wanted), 1.0, 255.0));
    co_await reader_.write(cv::reverse_trim, value);
  }

  std::vector<StepAim> aims_;
  LapReader reader_;
  bool trimmed_ = false;
  double last_ = 0;
};

}  // namespace

Outcome run_by_hand(World& world, const Stage& stage) {
  ByHand work(world, stage);
  world.run(work.run(), patient_limit_s);
  work.outcome.track_s = world.now_s();
  return work.outcome;
}

}  // namespace lapwright::bench
