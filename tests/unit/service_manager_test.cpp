// What a service tells its manager: sd_notify(3) and the environment of systemd.exec(5), systemd.service(5).
#include "daemon/service_manager.h"

#include <boost/test/unit_test.hpp>
#include <cstdlib>

#include "tests/notify_socket.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

void put_into_environment(const char* name, const std::string& value) { ::setenv(name, value.c_str(), 1); }

}  // namespace

BOOST_AUTO_TEST_SUITE(service_manager)

BOOST_AUTO_TEST_CASE(words_reach_the_socket_of_the_environment) {
  const TemporaryFolder folder;
  for (const std::string& name : {(folder.path() / "notify").string(), "@lapwright-" + std::to_string(::getpid())}) {
    const NotifySocket socket(name);
    put_into_environment("NOTIFY_SOCKET", name);
    put_into_environment("WATCHDOG_USEC", "2000000");
    put_into_environment("WATCHDOG_PID", std::to_string(::getpid()));
    const ServiceManager manager = ServiceManager::of_environment();
    BOOST_TEST(std::getenv("NOTIFY_SOCKET") == nullptr);
    BOOST_TEST(std::getenv("WATCHDOG_USEC") == nullptr);
    BOOST_TEST((manager.watchdog() == std::chrono::seconds(2)));
    manager.ready();
    BOOST_TEST(socket.heard() == "READY=1");
    manager.status("waiting for hardware");
    BOOST_TEST(socket.heard() == "STATUS=waiting for hardware");
    manager.alive();
    BOOST_TEST(socket.heard() == "WATCHDOG=1");
    manager.stopping();
    BOOST_TEST(socket.heard() == "STOPPING=1");
  }
}

BOOST_AUTO_TEST_CASE(another_process_is_watched_or_nobody) {
  put_into_environment("WATCHDOG_USEC", "2000000");
  put_into_environment("WATCHDOG_PID", "1");
  BOOST_TEST(!ServiceManager::of_environment().watchdog().has_value());
  put_into_environment("WATCHDOG_USEC", "soon");
  BOOST_TEST(!ServiceManager::of_environment().watchdog().has_value());
  ServiceManager::of_environment().ready();  // there is nobody to hear it
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
