#include "drivers/lcc/lcc_station.h"

#include <boost/asio/experimental/awaitable_operators.hpp>

#include "drivers/lcc/expectation.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;
namespace {

constexpr Duration state_within = std::chrono::seconds(1);

}  // namespace

LccStation::LccStation(StationSettings settings, Clock& clock)
    : clock_(clock),
      packet_steps_(settings.packet_steps),
      node_(std::move(settings.node), clock),
      train_(node_, settings.steps, settings.packet_steps),
      cvs_(node_, settings.cvs),
      pulse_(node_, train_, settings.silence, [this] { return cvs_.busy() && !train_.commanded_to_run(); }) {
  node_.listen([this](const Message& message, Instant heard) {
    // While power is off at our own wish, a station's own report of it is no news.
    if (!off_by_us_ || message.mti != Mti::event_report) train_.hear(message);
    cvs_.hear(message);
    pulse_.hear(message);
    if (gates_ != nullptr) gates_->hear(message, heard);
  });
  node_.when_lost([this] {
    train_.forget();
    if (off_) tells_power_ = false;  // the link may be opened to another station; a live track is this one's
  });
}

asio::awaitable<void> LccStation::run() {
  using asio::experimental::awaitable_operators::operator&&;
  auto on_the_bus = node_.run();
  auto watched = pulse_.run();
  auto both = std::move(on_the_bus) && std::move(watched);
  co_await std::move(both);
}

void LccStation::stop() {
  node_.stop();
  pulse_.stop();
}

std::optional<Stop> LccStation::lost() const {
  const Presence presence = node_.presence();
  const bool off_the_bus = presence == Presence::link_down || presence == Presence::duplicate;
  const bool more_is_known = train_.lost() && train_.lost()->reason != StopReason::rig_lost;
  if (off_the_bus && !more_is_known) return Stop{StopReason::rig_lost, node_.trouble()};
  return train_.lost();
}

NodeId LccStation::train_id() const {
  const std::optional<NodeId>& train = train_.node_id();
  if (!train) throw RigFault("no engine's controls were taken; take them first");
  return *train;
}

asio::awaitable<void> LccStation::take(dcc::VehicleAddress engine) { return train_.take(engine); }
asio::awaitable<void> LccStation::give_back() { return train_.give_back(); }

asio::awaitable<void> LccStation::drive(ThrottleCommand command) {
  const int wanted = command.mode == StepMode::steps28 ? 28 : 128;
  if (wanted != packet_steps_) {
    throw RigFault("the station sends packets of " + std::to_string(packet_steps_) + " steps, the sheet is for " +
                   std::to_string(wanted) + "; make the configuration's packet_steps suit the sheet");
  }
  return train_.drive(command);
}

asio::awaitable<void> LccStation::halt() { return train_.halt(); }

asio::awaitable<void> LccStation::set_power(bool on) {
  const Instant ready_by = clock_.now() + state_within;
  co_await node_.ready(ready_by);
  if (on && train_.may_run()) co_await train_.halt();
  off_by_us_ = !on;
  if (on) off_ = false;
  node_.tell(Mti::event_report, (on ? event::clear_emergency_off : event::emergency_off).bytes());
  // Whoever consumes the event says whether it holds; a station need not (Event Transport Standard 6.4).
  Expectation answers(node_, [](const Message& message) {
    return (message.mti == Mti::consumer_valid || message.mti == Mti::consumer_invalid) &&
           EventId::from(message.content) == event::emergency_off;
  });
  node_.tell(Mti::identify_consumer, event::emergency_off.bytes());
  const Instant limit = clock_.now() + state_within;
  const std::optional<Message> answer = co_await answers.next(limit);
  if (!answer && !on && tells_power_) {
    throw RigFault("the station does not say any more whether track power is off; switch the supply off by hand");
  }
  if (answer) tells_power_ = true;
  const bool off = answer && answer->mti == Mti::consumer_valid;
  if (answer && off == on) {
    throw RigFault(on ? "the station keeps track power off; is its own stop button pressed?"
                      : "the station did not switch track power off; switch the supply off by hand");
  }
  if (!on) off_ = true;
}

void LccStation::send_power_off() {
  if (node_.presence() != Presence::on_the_bus) return;
  off_by_us_ = true;
  try {
    node_.tell(Mti::event_report, event::emergency_off.bytes(), true);
  } catch (const RigFault&) {
    // The link takes nothing any more; `set_power(false)` will say so.
  }
}

asio::awaitable<void> LccStation::set_turnout(TurnoutOrder order) {
  const Instant ready_by = clock_.now() + state_within;
  co_await node_.ready(ready_by);
  node_.tell(Mti::event_report, turnout_event(order).bytes());
}

asio::awaitable<CvWriteReply> LccStation::write_cv(int cv, std::uint8_t value) {
  const NodeId train = train_id();
  return cvs_.write(train, cv, value);
}

asio::awaitable<CvWriteReply> LccStation::write_cv_bit(int cv, int bit, bool value) {
  const NodeId train = train_id();
  return cvs_.write_bit(train, cv, bit, value);
}

asio::awaitable<std::optional<std::uint8_t>> LccStation::read_cv(int cv) {
  const NodeId train = train_id();
  return cvs_.read(train, cv);
}

}  // namespace lapwright::lcc
