// The LCC station driver on a bus that says anything, with operations outstanding. The input is GridConnect text;
// between frames, where the driver skips them anyway, some letters say what happens besides:
//   LF 2 ms pass   ~ 250 ms pass   ^ 5 s pass   @ a new piece of bytes   ! the link is lost   % its queue is full
//   =t take  =g give back  =d drive  =h halt  =p power on  =o power off  =r read  =w write  =b write a bit  =e an edge
#include <algorithm>

#include "drivers/lcc/lcc_station.h"
#include "tests/fuzz/property.h"
#include "tests/fuzz/wire.h"

namespace lapwright::fuzz {
namespace asio = boost::asio;
namespace {

/// A CV access may be refused four times after the longest time that a datagram may announce, and others come first.
constexpr Duration longest = std::chrono::minutes(20);

lcc::EventId event(std::string_view text) { return lcc::EventId::parse(text).value(); }

std::vector<lcc::GateEvents> gate_events() {
  return {{event("01.01.02.00.00.FB.00.0C"), event("01.01.02.00.00.FA.00.0C")},
          {event("01.01.02.00.00.FB.00.0D"), event("01.01.02.00.00.FA.00.0D")}};
}

/// The node ID and train of reference/lcc.md 9, so that its worked frames are this driver's.
lcc::StationSettings settings() {
  lcc::StationSettings result;
  result.node.id = lcc::NodeId::parse("02.01.0D.4C.43.01").value();
  result.node.consumed = lcc::EventGates::all(gate_events());
  result.packet_steps = 128;
  return result;
}

class Bus final : public Wire {
 public:
  explicit Bus(std::string_view input) : Wire(longest), input_(input) { station_.use_event_gates(gates_); }
  using Wire::run;

 private:
  LinkUser& user() override { return station_.node(); }
  asio::awaitable<void> serve() override { return station_.run(); }
  void stop() override { station_.stop(); }
  asio::awaitable<void> play() override;
  asio::awaitable<void> operate(char kind);
  asio::awaitable<void> see_an_edge();
  void begun_anew() override;
  void went(std::string_view bytes) override;
  void tell(std::string_view bytes) override;

  std::string_view input_;
  lcc::LccStation station_{settings(), clock()};
  lcc::EventGates gates_{station_.node(), gate_events()};
  lcc::FrameReader heard_, said_;
  bool train_spoke_ = false;  ///< since the link was opened
};

asio::awaitable<void> Bus::play() {
  std::string piece;
  for (std::size_t at = 0; at < input_.size(); ++at) {
    const char letter = input_[at];
    if (std::string_view("\n~^@!%=").find(letter) == std::string_view::npos) {
      piece += letter;
      continue;
    }
    tell(piece);
    piece.clear();
    Duration length{};
    if (letter == '\n') length = std::chrono::milliseconds(2);
    if (letter == '~') length = std::chrono::milliseconds(250);
    if (letter == '^') length = std::chrono::seconds(5);
    if (letter == '!') unplug();
    if (letter == '%') fill_queue();
    if (letter == '=' && at + 1 < input_.size()) begin(operate(input_[++at]));
    co_await pass(length);
  }
  tell(piece);
  co_await finish();
}

asio::awaitable<void> Bus::operate(char kind) {
  const auto three = dcc::VehicleAddress::short_form(3);
  const ThrottleCommand command{50, Direction::forward, StepMode::steps126};
  if (kind == 't') co_await station_.take(three);
  if (kind == 'g') co_await station_.give_back();
  if (kind == 'd') co_await station_.drive(command);
  if (kind == 'h') co_await station_.halt();
  if (kind == 'p') co_await station_.set_power(true);
  if (kind == 'o') co_await station_.set_power(false);
  if (kind == 'r') co_await station_.read_cv(5);
  if (kind == 'w') co_await station_.write_cv(67, 12);
  if (kind == 'b') co_await station_.write_cv_bit(29, 4, true);
  if (kind == 'e') co_await see_an_edge();
}

asio::awaitable<void> Bus::see_an_edge() {
  const Instant deadline = clock().now() + std::chrono::seconds(3);
  const std::optional<GateEdge> edge = co_await gates_.next_edge(deadline);
  if (edge) property(edge->gate == 0 || edge->gate == 1, "an edge is of one of the gates");
}

void Bus::begun_anew() {
  heard_.begin_anew();
  said_.begin_anew();
  train_spoke_ = false;
}

void Bus::tell(std::string_view bytes) {
  heard_.feed(bytes);
  while (const auto frame = heard_.next()) {
    const auto type = static_cast<lcc::Mti>(frame->header >> 12U & 0xFFFU);
    train_spoke_ = train_spoke_ || type == lcc::Mti::train_reply;
  }
  Wire::tell(bytes);
}

/// What the driver says is always whole frames of its own, and no engine is driven whose controls nobody gave it.
void Bus::went(std::string_view bytes) {
  said_.feed(bytes);
  property(bytes.ends_with(";\n") && said_.counts().bad == 0, "whole frames go out");
  while (const auto frame = said_.next()) {
    property(frame->source() != 0, "nobody speaks under the alias 0");
    const bool message = (frame->header >> 27U & 1U) != 0;
    const auto type = static_cast<lcc::Mti>(frame->header >> 12U & 0xFFFU);
    const bool drives = message && type == lcc::Mti::train_command && frame->size == 5 && frame->bytes[2] == 0;
    property(!drives || train_spoke_, "an engine is driven only when its train answered on this opening of the link");
    if (message && is_addressed(type) && frame->header >> 24U == 0x19U) {
      property(frame->size >= 2 && ((frame->bytes[0] & 0x0FU) != 0 || frame->bytes[1] != 0),
               "nobody is called alias 0");
    }
  }
}

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright::fuzz;
  Bus(text(data, size)).run();
  return 0;
}
