// The slow start of an engine of which nothing is known, and what is no engine in a beam. Times are invented.
#include "tuning/creep.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>

#include "drivers/virtual_clock.h"
#include "tests/unit/noting_rig.h"

namespace lapwright {
namespace {

struct Crawl {
  void beam(double s, int gate, bool blocked) {
    rig.to_come.push_back(GateEdge{gate, blocked, static_cast<std::uint32_t>(s * 1e6), 1, Instant{} + seconds(s)});
  }
  Crept go(StepMode mode = StepMode::steps28) {
    Crept result;
    asio::io_context context;
    asio::co_spawn(
        context,
        [&]() -> asio::awaitable<void> {
          EdgeFilter filter(2, 0.02);
          const Creep how{Direction::reverse, mode, 1500};
          result = co_await creep(rig, clock, filter, how);
        },
        [](const std::exception_ptr& failure) {
          if (failure) std::rethrow_exception(failure);
        });
    BOOST_TEST((clock.run(context, seconds(3600)) == VirtualClock::Outcome::finished));
    return result;
  }
  [[nodiscard]] double now_s() const { return in_seconds(clock.now().time_since_epoch()); }
  VirtualClock clock;
  NotingRig rig{clock};
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(creeping, Crawl)

// Steps 4, 5, 6 … each for a second and a half: at 5 s it is at 7.
BOOST_AUTO_TEST_CASE(step_by_step_until_a_gate_sees_it) {
  rig.current_mA = 70;
  beam(5, 1, true);
  const Crept crept = go();
  BOOST_REQUIRE(crept.seen.has_value());
  BOOST_TEST(crept.seen->gate == 1);
  BOOST_TEST(crept.step == 7);
  BOOST_TEST(crept.most_mA.value() == 70);
  BOOST_TEST(rig.calls == (std::vector<std::string>{"drive 4", "drive 5", "drive 6", "drive 7"}),
             boost::test_tools::per_element());
}

BOOST_AUTO_TEST_CASE(of_126_steps_it_takes_larger_ones) {
  beam(2, 0, true);
  BOOST_TEST(go(StepMode::steps126).step == 22);  // five 28ths: 22.5
}

// 4 ms within the time that beams bounce, then 60 ms: neither is an engine. What stays is, and a coupler in front of it
// is forgotten.
BOOST_AUTO_TEST_CASE(a_flash_is_no_engine) {
  beam(2, 1, true);
  beam(2.004, 1, false);
  beam(4, 0, true);
  beam(4.06, 0, false);
  beam(8, 1, true);
  beam(8.05, 1, false);
  beam(8.2, 1, true);
  const Crept crept = go();
  BOOST_REQUIRE(crept.seen.has_value());
  BOOST_TEST(crept.seen->gate == 1);
  BOOST_TEST(crept.seen->at_s == 6.2, boost::test_tools::tolerance(1e-6));  // since the board's first edge
}

// Up to six tenths of all steps, for a minute and the way at 150 mm/s.
BOOST_AUTO_TEST_CASE(what_does_not_move_does_not_hear) {
  const Crept crept = go();
  BOOST_TEST(!crept.seen.has_value());
  BOOST_TEST(crept.step == 16);
  BOOST_TEST(!crept.most_mA.has_value());
  BOOST_TEST(now_s() == 70, boost::test_tools::tolerance(0.06));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
