// What the service manager hears of several loops: ready once all are, alive while all are.
#include "daemon/shared_manager.h"

#include <boost/test/unit_test.hpp>

#include "tests/notify_socket.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

struct TwoLoops {
  static Instant at(double s) { return Instant{} + seconds(s); }
  [[nodiscard]] std::string heard() const { return socket.heard(); }

  const TemporaryFolder folder;
  const std::string name = (folder.path() / "notify").string();
  const NotifySocket socket{name};
  SharedManager manager{ServiceManager(name, std::chrono::seconds(2)), {"west", "east"}};
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(shared_manager, TwoLoops)

BOOST_AUTO_TEST_CASE(ready_once_all_are) {
  manager.ready(0);
  BOOST_TEST(heard().empty());
  manager.ready(0);
  BOOST_TEST(heard().empty());
  manager.ready(1);
  BOOST_TEST(heard() == "READY=1");
  manager.ready(1);
  BOOST_TEST(heard().empty());
}

BOOST_AUTO_TEST_CASE(a_loop_that_ended_is_not_waited_for) {
  manager.ready(1);
  manager.over(0);
  BOOST_TEST(heard() == "READY=1");
  manager.alive(1, at(100));
  BOOST_TEST(heard() == "WATCHDOG=1");
}

BOOST_AUTO_TEST_CASE(alive_while_all_are) {
  manager.alive(0, at(100));
  BOOST_TEST(heard().empty());  // nobody knows of the other one yet
  manager.alive(1, at(100.1));
  BOOST_TEST(heard() == "WATCHDOG=1");
  manager.alive(0, at(101));
  BOOST_TEST(heard() == "WATCHDOG=1");
  manager.alive(0, at(102));  // the other one is silent for 1.9 s
  BOOST_TEST(heard().empty());
  manager.alive(1, at(102.1));
  BOOST_TEST(heard() == "WATCHDOG=1");
}

BOOST_AUTO_TEST_CASE(one_status_of_both_and_one_stop) {
  manager.status(1, "working");
  BOOST_TEST(heard() == "STATUS=west: ; east: working");
  manager.status(0, "dead: over-current");
  BOOST_TEST(heard() == "STATUS=west: dead: over-current; east: working");
  manager.stopping(1);
  BOOST_TEST(heard() == "STOPPING=1");
  manager.stopping(0);
  BOOST_TEST(heard().empty());
}

BOOST_AUTO_TEST_CASE(of_one_loop_the_words_are_as_they_were) {
  SharedManager alone(ServiceManager(name, std::chrono::seconds(2)), {"lapwright"});
  alone.status(0, "working");
  BOOST_TEST(heard() == "STATUS=working");
  alone.ready(0);
  BOOST_TEST(heard() == "READY=1");
  alone.alive(0, at(1));
  BOOST_TEST(heard() == "WATCHDOG=1");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
