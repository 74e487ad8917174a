#include "daemon/control_socket.h"

#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <array>
#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <fstream>
#include <future>
#include <thread>

#include "daemon/control_client.h"
#include "daemon/control_link.h"
#include "daemon/exit_codes.h"
#include "tests/temporary_folder.h"

using namespace lapwright;
namespace asio = boost::asio;

namespace {

constexpr int limit_ms = 3000;

class Desk final : public ControlDesk {
 public:
  [[nodiscard]] std::string status_line() const override { return R"({"state":"working"})"; }
  [[nodiscard]] std::string check_line() const override {
    return R"({"good":false,"checks":[{"what":"relay","good":false,"text":"is welded"},)"
           R"({"what":"gate","good":null,"text":"not told"},{"what":"board","good":true,"text":"QT-1"}]})";
  }
  asio::awaitable<std::string> halt() override {
    ++halts;
    co_return R"({"halted":true,"text":"dead"})";
  }
  asio::awaitable<std::string> clear() override { co_return R"({"cleared":false,"text":"nothing has tripped"})"; }
  asio::awaitable<std::string> queue(nlohmann::json request) override {
    co_return nlohmann::json{{"queue", nlohmann::json::object()}, {"done", true}, {"text", request.value("do", "")}}
        .dump();
  }
  int halts = 0;
};

/// Serves in a second thread for as long as it lives.
class Running {
 public:
  Running(asio::io_context& context, ControlSocket& control)
      : context_(context), control_(control), thread_([this] { context_.run(); }) {}
  ~Running() {
    asio::post(context_, [this] { control_.close(); });
    thread_.join();
  }
  Running(const Running&) = delete;
  Running& operator=(const Running&) = delete;

 private:
  asio::io_context& context_;
  ControlSocket& control_;
  std::thread thread_;
};

/// A folder of its own, and a service's socket in it that a second thread serves.
struct Place {
  template <class Script>
  void serve(Script script) {
    Desk desk;
    asio::io_context context;
    ControlSocket control(context, path, desk);
    {
      const Running running(context, control);
      script(context, control);
    }
    halts = desk.halts;
  }
  TemporaryFolder own;
  const std::filesystem::path path = own.path() / "control.sock";
  int halts = 0;
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(control_socket, Place)

BOOST_AUTO_TEST_CASE(owner_only_and_gone_afterwards) {
  serve([&](asio::io_context&, ControlSocket&) {
    struct stat found {};
    BOOST_TEST(::lstat(path.c_str(), &found) == 0);
    BOOST_TEST((found.st_mode & 07777) == 0600u);
  });
  BOOST_TEST(!std::filesystem::exists(path));
}

BOOST_AUTO_TEST_CASE(status_watch_and_halt) {
  serve([&](asio::io_context& context, ControlSocket& control) {
    ControlLink asking(path);
    asking.send(R"({"ask":"status"})");
    BOOST_TEST(asking.receive(limit_ms).value() == R"({"state":"working"})");
    ControlLink watching(path);
    watching.send(R"({"ask":"watch"})");
    BOOST_TEST(watching.receive(limit_ms).value() == R"({"state":"working"})");
    asio::post(context, [&] { control.publish(R"({"event":"phase"})"); });
    BOOST_TEST(watching.receive(limit_ms).value() == R"({"event":"phase"})");
    asking.send(R"({"ask":"halt"})");
    BOOST_TEST(asking.receive(limit_ms).value() == R"({"halted":true,"text":"dead"})");
    BOOST_TEST(ask_clear(path) == exit_needs_person);
  });
  BOOST_TEST(halts == 1);
}

BOOST_AUTO_TEST_CASE(bad_requests_are_answered_and_oversized_ones_end_the_talk) {
  serve([&](asio::io_context&, ControlSocket&) {
    ControlLink link(path);
    for (const char* bad : {"", "nonsense", "[]", R"({"ask":7})", R"({"ask":"drive"})"}) {
      link.send(bad);
      BOOST_TEST(link.receive(limit_ms).value().find("not understood") != std::string::npos);
    }
    link.send(std::string(ControlSocket::longest_line + 1000, 'x'));
    BOOST_TEST(link.receive(limit_ms).value().find("too long") != std::string::npos);
    BOOST_TEST(!link.receive(limit_ms).has_value());
    ControlLink next(path);
    next.send(R"({"ask":"status"})");
    BOOST_TEST(next.receive(limit_ms).has_value());
  });
}

BOOST_AUTO_TEST_CASE(no_more_clients_than_allowed) {
  serve([&](asio::io_context&, ControlSocket&) {
    std::vector<std::unique_ptr<ControlLink>> links;
    for (std::size_t i = 0; i < ControlSocket::most_clients; ++i) {
      links.push_back(std::make_unique<ControlLink>(path));
      links.back()->send(R"({"ask":"watch"})");
      BOOST_TEST(links.back()->receive(limit_ms).has_value());
    }
    ControlLink one_more(path);
    one_more.send(R"({"ask":"status"})");
    BOOST_TEST(one_more.receive(limit_ms).value().find("too many clients") != std::string::npos);
    BOOST_TEST(!one_more.receive(limit_ms).has_value());
    // Whatever watches and waits: somebody who wants everything dead gets through.
    ControlLink frightened(path);
    frightened.send(R"({"ask":"halt"})");
    BOOST_TEST(frightened.receive(limit_ms).value() == R"({"halted":true,"text":"dead"})");
    // Those who come and say nothing are not kept for long.
    std::vector<std::unique_ptr<ControlLink>> crowd;
    for (std::size_t i = 1; i < ControlSocket::most_late; ++i) crowd.push_back(std::make_unique<ControlLink>(path));
    ControlLink far_too_many(path);
    BOOST_TEST(far_too_many.receive(limit_ms).value().find("too many clients") != std::string::npos);
    BOOST_TEST(!crowd.back()->receive(limit_ms).has_value());
  });
  BOOST_TEST(halts == 1);
}

BOOST_AUTO_TEST_CASE(a_slow_watcher_is_dropped) {
  serve([&](asio::io_context& context, ControlSocket& control) {
    ControlLink slow(path);
    slow.send(R"({"ask":"watch"})");
    BOOST_TEST(slow.receive(limit_ms).has_value());
    std::size_t left = 1;
    for (int round = 0; round < 50 && left > 0; ++round) {
      std::promise<std::size_t> counted;
      asio::post(context, [&] {
        for (int i = 0; i < 100; ++i) control.publish(std::string(4000, 'e'));
      });
      asio::post(context, [&] { counted.set_value(control.clients()); });
      left = counted.get_future().get();
    }
    BOOST_TEST(left == 0u);
  });
}

BOOST_AUTO_TEST_CASE(stale_sockets_are_replaced_and_others_left_alone) {
  {
    sockaddr_un address{};
    address.sun_family = AF_UNIX;
    path.string().copy(address.sun_path, sizeof address.sun_path - 1);
    const int stale = ::socket(AF_UNIX, SOCK_STREAM, 0);
    BOOST_REQUIRE(::bind(stale, reinterpret_cast<const sockaddr*>(&address), sizeof address) == 0);
    ::close(stale);
  }
  serve([&](asio::io_context& context, ControlSocket&) {
    ControlLink link(path);
    Desk desk;
    BOOST_CHECK_THROW(ControlSocket(context, path, desk), SocketInUse);
    link.send(R"({"ask":"status"})");  // the first one is not disturbed
    BOOST_TEST(link.receive(limit_ms).has_value());
  });
  std::ofstream(path) << "a letter";
  BOOST_CHECK_THROW(ControlPath{path}, SocketTrouble);
  BOOST_TEST(std::filesystem::file_size(path) == 8u);
}

BOOST_AUTO_TEST_CASE(nobody_there) {
  BOOST_CHECK_THROW(ControlLink{path}, NotReachable);
  BOOST_TEST(ask_status(path, false) == exit_not_reachable);
}

BOOST_AUTO_TEST_CASE(control_words_for_people) {
  const std::string text = status_text(
      R"({"railway":"Quillmoor","state":"working","why":"","engine":{"title":"Fellbeck no. 7","number":1,"of":3,)"
      R"("sheet":"Slow freight","phase":"measuring","verdicts":12,"wanted":56,"passes":30},)"
      R"("done":[{"title":"Moor Hen","outcome":"proved","proved":28,"steps":28,"owed":{"CV3":28}}]})");
  BOOST_TEST(text ==
             "Quillmoor: working\n"
             "  engine    Fellbeck no. 7 (1 of 3), sheet \"Slow freight\"\n"
             "  now       measuring; 12 of 56 verdicts, 30 passes\n"
             "  done      Moor Hen: proved, 28 of 28 steps proved\n"
             "  owed      CV3 = 28\n");
  BOOST_TEST(event_text("not json") == "");
  BOOST_TEST(event_text(R"({"event":"pass","step":3})") == "");
  BOOST_TEST(event_text(R"({"event":"state","state":"dead","why":"halted"})") == "dead: halted\n");
}

BOOST_AUTO_TEST_SUITE_END()
