#include "tests/recordings/session.h"

#include <algorithm>
#include <array>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>
#include <cstdio>
#include <stdexcept>

#include "drivers/links/traffic_log.h"
#include "tuning/rig_fault.h"

namespace lapwright::recordings {
namespace asio = boost::asio;
namespace {

constexpr Duration look_every = std::chrono::milliseconds(10);

std::string described(const GateEdge& edge) {
  return "edge at gate " + std::to_string(edge.gate) + (edge.blocked ? " blocked" : " clear") + ", counter " +
         std::to_string(edge.counter_us) + ", epoch " + std::to_string(edge.epoch);
}

std::string described(CvWriteReply reply) {
  switch (reply) {
    case CvWriteReply::confirmed:
      return "confirmed";
    case CvWriteReply::refused:
      return "refused";
    case CvWriteReply::unsupported:
      return "unsupported";
    case CvWriteReply::silent:
      break;
  }
  return "silent";
}

std::string decimals(double value, const char* format) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), format, value);
  return text.data();
}

}  // namespace

/// A link without a device: as drivers/links/link.cpp does it, what is given up takes nothing more, and `lost` follows.
class Session::Wire final : public Outlet {
 public:
  Wire(Session& session, std::string name, LinkUser& user) : session_(session), name_(std::move(name)), user_(user) {}

  void open(const std::string& where) {
    session_.tell(name_ + " + " + where);
    up_ = true;
    user_.opened(*this);
  }
  void feed(std::string_view bytes) {
    if (up_) user_.received(bytes, session_.clock_.now());
  }
  void lose(const std::string& why) {
    if (!up_ && !giving_up_) return;
    up_ = giving_up_ = false;
    session_.tell(name_ + " - " + why);
    user_.lost(why);
  }
  void send(std::string_view bytes) override { went(" > ", bytes); }
  void send_first(std::string_view bytes) override { went(" >> ", bytes); }
  void cut_in(std::string_view bytes) override { went(" >>> ", bytes); }
  void give_up(const std::string& why) override {
    if (!up_) return;
    up_ = false;
    giving_up_ = true;
    session_.tell(name_ + " is given up");
    asio::post(session_.context_, [this, why] {
      lose(why);
      session_.look();
    });
  }

 private:
  void went(const char* how, std::string_view bytes) {
    if (!up_) throw RigFault(name_ + " is down");
    session_.tell(name_ + how + escaped(bytes));
    session_.sent_.push_back({session_.clock_.now(), name_, std::string(bytes)});
    if (session_.on_send) session_.on_send(session_.sent_.back());
  }

  Session& session_;
  std::string name_;
  LinkUser& user_;
  bool up_ = false;
  bool giving_up_ = false;
};

Session::Session(const Case& given) : case_(given) {
  if (case_.station) {
    station_ = std::make_unique<lcc::LccStation>(*case_.station, clock_);
    event_gates_ = std::make_unique<lcc::EventGates>(station_->node(), case_.gate_events);
    station_->use_event_gates(*event_gates_);
    station_wire_ = std::make_unique<Wire>(*this, "station", station_->node());
  }
  if (case_.board) {
    board_ = std::make_unique<trackside::Board>(*case_.board, clock_);
    board_wire_ = std::make_unique<Wire>(*this, "board", *board_);
  }
  if (!station_) return;
  EdgeSource* gates = event_gates_.get();
  if (board_ && case_.gate_events.empty()) gates = board_.get();
  rig_ = std::make_unique<WiredRig>(*station_, *gates, board_.get());
}

Session::~Session() = default;

Session::Wire& Session::wire(const std::string& link) {
  const auto& wire = link == "station" ? station_wire_ : board_wire_;
  if (!wire || (link != "station" && link != "board")) throw std::runtime_error("the case has no link " + link);
  return *wire;
}

void Session::open(const std::string& link, const std::string& where) {
  wire(link).open(where);
  look();
}

void Session::feed(const std::string& link, std::string_view bytes) {
  wire(link).feed(bytes);
  look();
}

void Session::lose(const std::string& link, const std::string& why) {
  wire(link).lose(why);
  look();
}

void Session::tell(const std::string& what) {
  protocol_.push_back(decimals(in_seconds(clock_.now().time_since_epoch()), "%.6f ") + what);
}

void Session::look() {
  if (station_) {
    const std::string said = station_->trouble();
    if (said != station_said_) tell("the station: " + (said.empty() ? std::string("ready") : said));
    station_said_ = said;
  }
  if (board_) {
    const std::string said = board_->trouble();
    if (said != board_said_) tell("the board: " + (said.empty() ? std::string("ready") : said));
    board_said_ = said;
  }
}

asio::awaitable<void> Session::keep_looking() {
  for (;;) {
    if (board_) board_->vouch();  // as the guard of an engine does
    look();
    co_await clock_.sleep_for(look_every);
  }
}

void Session::spawn(asio::awaitable<void> work) {
  asio::co_spawn(context_, std::move(work), [](const std::exception_ptr& failure) {
    if (failure) std::rethrow_exception(failure);
  });
}

void Session::run() {
  if (station_) spawn(station_->run());
  if (board_) spawn(board_->run());
  spawn(keep_looking());
  spawn(ask_all());
  clock_.run(context_, case_.end.time_since_epoch());
  count();
}

void Session::count() {
  for (const std::string& ask : open_) tell("no result so far: " + ask);
  if (station_) {
    const lcc::FrameCounts& frames = station_->node().frames();
    tell("station frames: " + std::to_string(frames.good) + " good, " + std::to_string(frames.bad) + " bad, " +
         std::to_string(frames.skipped) + " skipped; " + std::to_string(station_->node().dropped()) +
         " of messages that never became whole");
  }
  if (!board_) return;
  const trackside::LineCounts& lines = board_->lines();
  tell("board lines: " + std::to_string(lines.good) + " good, " + std::to_string(lines.bad) + " bad, " +
       std::to_string(lines.lost) + " lost; edges lost on the board: " + std::to_string(board_->edges_lost()));
}

asio::awaitable<void> Session::ask_all() {
  for (const Ask& ask : case_.asks) {
    co_await clock_.sleep_until(ask.at);
    if (ask.words.front() != "world") {
      spawn(serve(ask));
    } else if (on_world) {
      on_world(ask);
    }
  }
}

asio::awaitable<void> Session::serve(Ask ask) {
  const std::string text = ask.text();
  tell("? " + text);
  open_.push_back(text);
  std::string result;
  try {
    result = co_await answer(ask.words);
    result = text + ": " + result;
  } catch (const RigFault& fault) {
    result = text + ": FAULT " + fault.what();
  }
  open_.erase(std::find(open_.begin(), open_.end(), text));
  tell("= " + result);
  look();
}

asio::awaitable<std::string> Session::answer(Words words) {
  const std::string& what = words[0];
  if (what == "take") {
    const int number = std::stoi(words.at(1));
    const auto engine =
        words.at(2) == "short" ? dcc::VehicleAddress::short_form(number) : dcc::VehicleAddress::long_form(number);
    co_await station_->take(engine);
    co_return station_->listening() ? "ours" : "ours, without word of other throttles";
  }
  if (what == "drive") {
    const ThrottleCommand command{std::stoi(words.at(1)),
                                  words.at(2) == "forward" ? Direction::forward : Direction::reverse,
                                  words.at(3) == "28" ? StepMode::steps28 : StepMode::steps126};
    co_await station_->drive(command);
  } else if (what == "halt") {
    co_await station_->halt();
  } else if (what == "give-back") {
    co_await station_->give_back();
  } else if (what == "station-power") {
    co_await station_->set_power(words.at(1) == "on");
  } else if (what == "relay") {
    co_await board_->set_power(words.at(1) == "on");
  } else if (what == "power") {
    co_await rig_->set_power(words.at(1) == "on");
  } else if (what == "cut") {
    board_->cut();
  } else if (what == "current") {
    const std::optional<double> current = board_->track_current_mA();
    co_return current ? decimals(*current, "%.0f mA") : "unknown";
  } else if (what == "drift") {
    const std::optional<double> drift = board_->drift();
    co_return drift ? decimals(*drift * 1e6, "%.0f ppm") : "unknown";
  } else if (what == "edges") {
    std::string end = co_await all_edges();
    co_return end;
  } else {
    std::string done = co_await answer_cv(std::move(words));
    co_return done;
  }
  co_return "done";
}

asio::awaitable<std::string> Session::answer_cv(Words words) {
  const int cv = words.size() > 1 ? std::stoi(words[1]) : 0;
  if (words[0] == "read-cv") {
    const std::optional<std::uint8_t> value = co_await station_->read_cv(cv);
    co_return value ? std::to_string(*value) : "nothing";
  }
  CvWriteReply reply{};
  if (words[0] == "write-cv") {
    const auto value = static_cast<std::uint8_t>(std::stoi(words.at(2)));
    reply = co_await station_->write_cv(cv, value);
  } else if (words[0] == "write-bit") {
    const int bit = std::stoi(words.at(2));
    const bool value = words.at(3) == "1";
    reply = co_await station_->write_cv_bit(cv, bit, value);
  } else {
    throw std::runtime_error("nobody can be asked for '" + words[0] + "'");
  }
  co_return described(reply);
}

/// Until a fault or the end, as a procedure fetches them.
asio::awaitable<std::string> Session::all_edges() {
  EdgeSource* gates = event_gates_.get();
  if (board_ && case_.gate_events.empty()) gates = board_.get();
  for (;;) {
    const std::optional<GateEdge> edge = co_await gates->next_edge(case_.end);
    if (!edge) co_return "no more";
    tell(described(*edge));
  }
}

}  // namespace lapwright::recordings
