// The board's counter against the host's clock: drift is found, taken off, and never makes a stamp jump.
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>

#include "drivers/trackside/board_clock.h"

using namespace lapwright;
using trackside::BoardClock;

namespace {

constexpr double poll_s = 0.1;

/// A board whose counter runs too fast by `drift`, polled ten times a second over a line with uneven delays.
struct Pair {
  double drift;
  double delay_s;
  std::mt19937 random{5};
  BoardClock clock{};

  [[nodiscard]] std::uint32_t counter_us(double host_s) const {
    return static_cast<std::uint32_t>(static_cast<std::int64_t>(0xFFF00000 + 1e6 * host_s * (1 + drift)));
  }
  void poll_until(double from_s, double to_s) {
    std::uniform_real_distribution<double> delay(0.0002, delay_s);
    for (double at_s = from_s; at_s < to_s; at_s += poll_s) {
      const double there_s = delay(random), back_s = delay(random);
      clock.note(Instant(seconds(at_s)), Instant(seconds(at_s + there_s + back_s)), counter_us(at_s + there_s));
    }
  }
  /// Error of a measured time of `length_s`, as a share of it.
  double error(double from_s, double length_s) {
    const std::uint32_t from = clock.corrected_us(counter_us(from_s));
    const std::uint32_t to = clock.corrected_us(counter_us(from_s + length_s));
    return 1e-6 * (to - from) / length_s - 1;
  }
};

}  // namespace

BOOST_AUTO_TEST_SUITE(trackside_clock)

BOOST_AUTO_TEST_CASE(drift_of_a_resonator_is_taken_off) {
  for (const double drift : {0.005, -0.005, 0.00003}) {
    Pair pair{drift, 0.004};
    pair.poll_until(0, 120);
    BOOST_TEST_CONTEXT("drift " << drift) {
      BOOST_REQUIRE(pair.clock.drift().has_value());
      BOOST_TEST(std::abs(*pair.clock.drift() - drift) < 1e-4);
      BOOST_TEST(std::abs(pair.error(120, 20)) < 1e-4);
    }
  }
}

// Adapters for serial lines hold bytes back for up to 16 ms (pitfalls of the trade: common practice, no source).
BOOST_AUTO_TEST_CASE(slow_lines_only_take_longer) {
  Pair pair{0.004, 0.016};
  pair.poll_until(0, 3);
  BOOST_TEST(!pair.clock.drift().has_value());
  BOOST_TEST(pair.error(3, 1) == 0.004, boost::test_tools::tolerance(1e-3));  // not corrected yet, nor worsened
  pair.poll_until(3, 300);
  BOOST_TEST(std::abs(pair.error(300, 20)) < 2e-4);
}

BOOST_AUTO_TEST_CASE(stamps_never_jump_and_wrap) {
  Pair pair{0.005, 0.004};
  std::uint32_t before = pair.clock.corrected_us(pair.counter_us(0));
  for (int second = 0; second < 90; ++second) {
    pair.poll_until(second, second + 1);
    const std::uint32_t now = pair.clock.corrected_us(pair.counter_us(second + 1));
    BOOST_TEST(std::abs(1e-6 * (now - before) - 1) < 0.006);
    before = now;
  }
}

BOOST_AUTO_TEST_CASE(nonsense_is_not_believed) {
  Pair pair{0.2, 0.001};
  pair.poll_until(0, 60);
  BOOST_TEST(!pair.clock.drift().has_value());
}

BOOST_AUTO_TEST_SUITE_END()
