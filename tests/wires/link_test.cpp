// Links over real byte streams: pseudo-terminals and TCP on loopback.
#include "drivers/links/link.h"

#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

#include <array>
#include <boost/asio/buffer.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/write.hpp>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <optional>
#include <sstream>

#include "drivers/links/link_errors.h"
#include "drivers/real_clock.h"
#include "drivers/simulated/served/pseudo_terminal.h"
#include "tests/temporary_folder.h"

using namespace lapwright;
using simulated::PseudoTerminal;
namespace asio = boost::asio;
using asio::ip::tcp;

namespace {

bool has(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Notes what its link tells it.
struct Listener final : LinkUser {
  void opened(Outlet& outlet) override {
    out = &outlet;
    ++openings;
  }
  void received(std::string_view bytes, Instant) override { heard += bytes; }
  void lost(const std::string& why) override {
    out = nullptr;
    losses.push_back(why);
  }
  Outlet* out = nullptr;
  int openings = 0;
  std::string heard;
  std::vector<std::string> losses;
};

struct Bench {
  TemporaryFolder folder;
  std::filesystem::path name = folder.path() / "board";
  asio::io_context context;
  RealClock clock;
  Listener listener;
  std::exception_ptr failure;
  std::unique_ptr<TrafficLog> log;
  std::unique_ptr<Link> link;

  void start(LinkAddress address, Duration silence = Duration{}) {
    LinkSettings settings;
    settings.name = "board";
    settings.address = std::move(address);
    settings.silence = silence;
    settings.first_retry = std::chrono::milliseconds(20);
    settings.longest_retry = std::chrono::milliseconds(80);
    settings.connect_limit = std::chrono::milliseconds(300);
    link = std::make_unique<Link>(settings, listener, clock, log.get());
    asio::co_spawn(context, link->run(), [this](const std::exception_ptr& ended) { failure = ended; });
  }
  /// Runs until it holds, for three seconds at most.
  template <class Condition>
  bool becomes(Condition holds) {
    const Instant deadline = clock.now() + std::chrono::seconds(3);
    while (!holds() && clock.now() < deadline) context.run_one_for(std::chrono::milliseconds(5));
    context.restart();
    return holds();
  }
  void pass(Duration length) {
    context.run_for(length);
    context.restart();
  }
  ~Bench() {
    if (!link) return;
    link->stop();
    context.run_for(std::chrono::milliseconds(200));
  }
};

std::string read_all(asio::posix::stream_descriptor& end) {
  std::string all;
  std::array<char, 4096> piece{};  // more than a pseudo-terminal gives at once
  for (;;) {
    const ssize_t size = ::read(end.native_handle(), piece.data(), piece.size());
    if (size <= 0) return all;
    all.append(piece.data(), static_cast<std::size_t>(size));
  }
}

}  // namespace

BOOST_FIXTURE_TEST_SUITE(link_over_wires, Bench)

BOOST_AUTO_TEST_CASE(bytes_both_ways_over_a_symlinked_pseudo_terminal) {
  PseudoTerminal device(context.get_executor(), name);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  BOOST_TEST(link->health().up);
  std::string all(256, '?');
  for (std::size_t i = 0; i < all.size(); ++i) all[i] = static_cast<char>(i);  // nothing is echoed, turned or swallowed
  listener.out->send(all);
  std::string arrived;
  BOOST_TEST(becomes([&] { return (arrived += read_all(device.end())).size() >= all.size(); }));
  BOOST_TEST(arrived == all);
  asio::write(device.end(), asio::buffer(all));
  BOOST_TEST(becomes([&] { return listener.heard.size() >= all.size(); }));
  BOOST_TEST(listener.heard == all);
}

BOOST_AUTO_TEST_CASE(nothing_plugged_in_is_waited_for) {
  start(SerialAddress{name.string()});
  pass(std::chrono::milliseconds(100));
  BOOST_TEST(!link->health().up);
  BOOST_TEST(has(link->health().why, "plug it in"));
  BOOST_TEST(listener.losses.empty());
  PseudoTerminal device(context.get_executor(), name);
  BOOST_TEST(becomes([&] { return link->health().up; }));
}

BOOST_AUTO_TEST_CASE(unplugged_and_plugged_in_again_under_another_number) {
  std::optional<PseudoTerminal> device(std::in_place, context.get_executor(), name);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  device.reset();
  BOOST_REQUIRE(becomes([&] { return listener.losses.size() == 1; }));
  BOOST_TEST(listener.losses[0] == "hang-up");
  BOOST_TEST(!link->health().up);
  device.emplace(context.get_executor(), name);
  BOOST_TEST(becomes([&] { return listener.openings == 2; }));
}

BOOST_AUTO_TEST_CASE(a_second_opener_is_refused_and_told_who_holds_it) {
  PseudoTerminal device(context.get_executor(), name);
  const int holder = ::open(device.device().c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC);
  BOOST_REQUIRE(::flock(holder, LOCK_EX | LOCK_NB) == 0);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return failure != nullptr; }));
  try {
    std::rethrow_exception(failure);
  } catch (const LinkInUse& used) {
    BOOST_TEST(has(used.what(), "in use by process " + std::to_string(::getpid())));
  }
  ::close(holder);
}

BOOST_AUTO_TEST_CASE(silence_is_a_loss) {
  PseudoTerminal device(context.get_executor(), name);
  start(SerialAddress{name.string()}, std::chrono::milliseconds(150));
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  for (int i = 0; i < 6; ++i) {
    asio::write(device.end(), asio::buffer("x", 1));
    pass(std::chrono::milliseconds(60));
  }
  BOOST_TEST(listener.losses.empty());
  BOOST_REQUIRE(becomes([&] { return !listener.losses.empty(); }));
  BOOST_TEST(listener.losses[0] == "silent for 150 ms");
}

BOOST_AUTO_TEST_CASE(a_peer_over_tcp_that_closes_and_comes_back) {
  tcp::acceptor door(context, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
  start(TcpAddress{"127.0.0.1", door.local_endpoint().port()});
  tcp::socket peer(context);
  door.async_accept(peer, [](const boost::system::error_code&) {});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1 && peer.is_open(); }));
  asio::write(peer, asio::buffer(std::string("hello")));
  BOOST_TEST(becomes([&] { return listener.heard == "hello"; }));
  peer.close();
  BOOST_REQUIRE(becomes([&] { return listener.losses.size() == 1; }));
  tcp::socket again(context);
  door.async_accept(again, [](const boost::system::error_code&) {});
  BOOST_TEST(becomes([&] { return listener.openings == 2; }));
}

BOOST_AUTO_TEST_CASE(nobody_listens_then_somebody_does) {
  tcp::acceptor door(context, tcp::endpoint(asio::ip::address_v4::loopback(), 0));
  const tcp::endpoint where = door.local_endpoint();
  door.close();
  start(TcpAddress{"127.0.0.1", where.port()});
  pass(std::chrono::milliseconds(150));
  BOOST_TEST(has(link->health().why, "127.0.0.1:" + std::to_string(where.port())));
  tcp::acceptor opened(context);
  opened.open(where.protocol());
  opened.set_option(tcp::acceptor::reuse_address(true));
  opened.bind(where);
  opened.listen();
  BOOST_TEST(becomes([&] { return link->health().up; }));
}

BOOST_AUTO_TEST_CASE(a_peer_that_takes_nothing_fills_a_bounded_queue_and_a_cut_overtakes_it) {
  PseudoTerminal device(context.get_executor(), name);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  std::string refusal;
  for (int i = 0; i < 1000 && refusal.empty(); ++i) {
    try {
      listener.out->send(std::string(1000, 'q'));
    } catch (const RigFault& fault) {
      refusal = fault.what();
    }
    pass(std::chrono::microseconds(100));
  }
  BOOST_TEST(has(refusal, "takes no more bytes"));
  listener.out->cut_in("\x18");
  pass(std::chrono::milliseconds(20));
  const std::string arrived = read_all(device.end());
  BOOST_TEST(has(arrived, "\x18"));
  BOOST_TEST(arrived.size() < 20000u);  // of the million that was sent
}

BOOST_AUTO_TEST_CASE(first_goes_before_what_is_queued) {
  PseudoTerminal device(context.get_executor(), name);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  listener.out->send("one ");  // the kernel has it at once
  listener.out->send("two ");
  listener.out->send_first("stop ");
  std::string arrived;
  BOOST_TEST(becomes([&] { return (arrived += read_all(device.end())).size() >= 13; }));
  BOOST_TEST(arrived == "one stop two ");
}

BOOST_AUTO_TEST_CASE(a_recording_says_what_went_over_the_wire) {
  log = std::make_unique<TrafficLog>(folder.path() / "traffic", clock);
  std::optional<PseudoTerminal> device(std::in_place, context.get_executor(), name);
  start(SerialAddress{name.string()});
  BOOST_REQUIRE(becomes([&] { return listener.openings == 1; }));
  listener.out->send("L 07*6089\n");
  asio::write(device->end(), asio::buffer(std::string("a\\b\x01\n")));
  BOOST_REQUIRE(becomes([&] { return listener.heard.size() == 5; }));
  device.reset();
  BOOST_REQUIRE(becomes([&] { return listener.losses.size() == 1; }));
  std::ifstream file(folder.path() / "traffic");
  std::string stamp, marks;
  for (std::string line; std::getline(file, line);) marks += line.substr(line.find(' ') + 1) + '\n';
  BOOST_TEST(marks == "board + " + name.string() + "\nboard > L 07*6089\\n\nboard < a\\\\b\\x01\\n\nboard - hang-up\n");
  BOOST_TEST(unescaped("a\\\\b\\x01\\n") == "a\\b\x01\n");
}

BOOST_AUTO_TEST_SUITE_END()
