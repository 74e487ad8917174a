#include "tests/recordings/recorder.h"

#include <boost/asio/co_spawn.hpp>
#include <stdexcept>
#include <utility>

#include "drivers/links/traffic_log.h"
#include "tests/recordings/ends.h"
#include "tests/recordings/session.h"

namespace lapwright::recordings {
namespace asio = boost::asio;
namespace {

// Out of step with all that happens every so many milliseconds, so that no two things fall on the same instant.
constexpr Duration tick = std::chrono::microseconds(4007);
constexpr Duration begin = std::chrono::microseconds(500);

class Recording {
 public:
  explicit Recording(const Case& given)
      : session_(std::make_unique<Session>(given)),
        log_(emptied(given), session_->clock()),
        ends_(make_ends(given, *session_)),
        given_(given) {}
  ~Recording() { session_.reset(); }  // before the ends: what it runs refers to them
  Recording(const Recording&) = delete;
  Recording& operator=(const Recording&) = delete;

  void make() {
    session_->on_send = [this](const Sent& sent) {
      log_.went(sent.link, sent.bytes);
      ends_->hear(sent.link, sent.bytes);
    };
    session_->on_world = [this](const Ask& ask) { obey(ask); };
    asio::co_spawn(session_->context(), wires(), [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    });
    session_->run();
  }

 private:
  static std::filesystem::path emptied(const Case& given) {
    const auto file = case_folder(given.name) / "traffic.txt";
    std::filesystem::remove(file);
    return file;
  }
  void open(const std::string& link) {
    log_.opened(link, "/dev/" + link);
    session_->open(link, "/dev/" + link);
    ends_->opened(link);
  }
  /// `world plug LINK`, `world unplug LINK`; the rest is for the ends.
  void obey(const Ask& ask) {
    if (ask.words.at(1) == "plug") {
      open(ask.words.at(2));
    } else if (ask.words.at(1) == "unplug") {
      ends_->take(ask.words.at(2));
      log_.lost(ask.words.at(2), "hang-up");
      session_->lose(ask.words.at(2), "hang-up");
    } else {
      ends_->obey({ask.words.begin() + 1, ask.words.end()});
    }
  }
  asio::awaitable<void> wires() {
    co_await session_->clock().sleep_for(begin);
    if (given_.board) open("board");
    if (given_.station) open("station");
    for (;;) {
      ends_->pass(tick);
      for (const char* link : {"board", "station"}) {
        const std::string bytes = ends_->take(link);
        if (bytes.empty()) continue;
        log_.came(link, bytes);
        session_->feed(link, bytes);
      }
      co_await session_->clock().sleep_for(tick);
    }
  }

  std::unique_ptr<Session> session_;
  TrafficLog log_;
  std::unique_ptr<Ends> ends_;
  Case given_;
};

}  // namespace

void record(const Case& given) {
  if (given.ends.empty()) throw std::runtime_error(given.name + " was not recorded, it can't be recorded again");
  Recording recording(given);
  recording.make();
}

}  // namespace lapwright::recordings
