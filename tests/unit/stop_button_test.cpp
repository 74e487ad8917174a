// What a person hears who has everything made dead: that it was seen done, or what is in doubt.
#include "daemon/stop_button.h"

#include "tests/unit/guarded_bench.h"

namespace lapwright {
namespace {

struct Halted : GuardedBench {
  std::string doubt() {
    std::string told = "not asked";
    run([&](GuardedRig& guard, std::vector<std::string>&) -> asio::awaitable<void> {
      co_await guard.power_up();
      StopButton button;
      button.connect_guard(&guard);
      told = co_await button.make_dead("a person");
    });
    return told;
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(stop_button, Halted)

BOOST_AUTO_TEST_CASE(seen_done_there_is_no_doubt) { BOOST_TEST(doubt() == ""); }

BOOST_AUTO_TEST_CASE(where_nobody_tells_the_track_is_to_be_looked_at) {
  rig.silent = true;
  BOOST_TEST(doubt() == nobody_tells);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
