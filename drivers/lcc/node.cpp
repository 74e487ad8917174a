#include "drivers/lcc/node.h"

#include "drivers/lcc/expectation.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;
namespace {

// CAN Frame Transfer Standard 6.1 and 6.2.
constexpr std::uint32_t control_bit = 0x10000000;
constexpr std::uint32_t reserve_id = 0x0700, map_definition = 0x0701, map_enquiry = 0x0702, map_reset = 0x0703;
constexpr Duration wait_for_objections = std::chrono::milliseconds(200);
constexpr int aliases_at_most = 50;  // aliases in a row that others hold: the segment is not in order then
constexpr Duration reach_within = std::chrono::seconds(1);  // a new alias takes 0.2 s, ours or theirs

void put(Outlet& outlet, const Message& message, bool urgent) {
  std::string text;
  for (const Frame& frame : frames_of(message)) text += written(frame);
  if (urgent) {
    outlet.send_first(text);
  } else {
    outlet.send(text);
  }
}

std::string gone(NodeId node) {
  return "the node " + node.text() + " is not on the bus any more; is the station running?";
}

}  // namespace

Node::Node(NodeSettings settings, Clock& clock)
    : settings_(std::move(settings)), clock_(clock), generator_(settings_.id) {}

void Node::opened(Outlet& outlet) {
  outlet_ = &outlet;
  ++openings_;
  frames_.begin_anew();
  messages_.forget_all();
  book_.forget_all();
  presence_ = Presence::choosing_alias;
  bell_.ring();
}

void Node::lost(const std::string& why) {
  outlet_ = nullptr;
  why_down_ = "the station's link is down: " + why;
  presence_ = Presence::link_down;
  if (when_lost_) when_lost_();
  bell_.ring();
}

void Node::stop() {
  stopped_ = true;
  bell_.ring();
}

void Node::give_up(const std::string& why) {
  if (outlet_ != nullptr) outlet_->give_up(why);
}

std::string Node::trouble() const {
  switch (presence_) {
    case Presence::link_down:
      return why_down_;
    case Presence::choosing_alias:
      return "the bus has not let this program in yet";
    case Presence::duplicate:
      return "another node on the bus bears the node ID " + settings_.id.text() +
             "; give this program an ID of its own in the configuration, then start it anew";
    case Presence::on_the_bus:
      break;
  }
  return "";
}

asio::awaitable<void> Node::run() {
  while (!stopped_) {
    if (presence_ == Presence::choosing_alias) {
      try {
        co_await choose_alias();
        continue;
      } catch (const RigFault& fault) {  // also when the link is going down and `lost` did not come yet
        give_up(fault.what());
      }
    }
    co_await bell_.wait();
  }
}

asio::awaitable<void> Node::choose_alias() {
  const int opening = openings_;
  const auto undisturbed = [&] { return presence_ == Presence::choosing_alias && openings_ == opening && !stopped_; };
  for (int tries = 0; tries < aliases_at_most; ++tries) {
    alias_ = generator_.next();
    taken_ = false;
    for (unsigned part = 0; part < 4; ++part) {
      const auto bits = static_cast<std::uint32_t>(settings_.id.value >> (36 - 12 * part)) & 0xFFFU;
      send_control((7 - part) << 12U | bits, false);
    }
    const Instant until = clock_.now() + wait_for_objections;
    while (clock_.now() < until && !taken_ && undisturbed()) {
      co_await bell_.wait_until(clock_, until);
    }
    if (!undisturbed()) co_return;
    if (taken_) continue;
    send_control(reserve_id, false);
    send_control(map_definition, true);
    presence_ = Presence::on_the_bus;
    announce();
    bell_.ring();
    co_return;
  }
  throw RigFault("no free alias in " + std::to_string(aliases_at_most) + " tries");
}

void Node::announce() {
  tell(Mti::initialization_complete, settings_.id.bytes());
  for (const EventId event : settings_.consumed) tell(Mti::consumer_unknown, event.bytes());
  for (const EventId event : settings_.produced) tell(Mti::producer_unknown, event.bytes());
  send_control(map_enquiry, false);
}

asio::awaitable<void> Node::ready(Instant deadline) {
  while (presence_ != Presence::on_the_bus) {
    if (clock_.now() >= deadline || stopped_ || presence_ == Presence::duplicate) throw RigFault(trouble());
    co_await bell_.wait_until(clock_, deadline);
  }
}

asio::awaitable<void> Node::reach(NodeId node) {
  const Instant limit = clock_.now() + reach_within;
  bool asked = false;
  for (;;) {
    const bool on_the_bus = presence_ == Presence::on_the_bus;
    if (stopped_ || !(on_the_bus || presence_ == Presence::choosing_alias)) throw RigFault(trouble());
    if (on_the_bus && book_.alias(node)) co_return;
    if (on_the_bus && clock_.now() >= limit) throw RigFault(gone(node));
    if (clock_.now() >= limit) throw RigFault(trouble());
    if (on_the_bus && !asked) send(make_frame(control_bit | map_enquiry << 12U | alias_, node.bytes()));
    asked = asked || on_the_bus;
    co_await bell_.wait_until(clock_, limit);
  }
}

void Node::send(const Frame& frame) {
  if (outlet_ != nullptr) outlet_->send(written(frame));
}

void Node::send_control(std::uint32_t variable, bool with_id) {
  const auto id = settings_.id.bytes();
  const std::span<const std::uint8_t> data =
      with_id ? std::span<const std::uint8_t>(id) : std::span<const std::uint8_t>();
  send(make_frame(control_bit | variable << 12U | alias_, data));
}

void Node::tell(Mti mti, std::span<const std::uint8_t> content, bool urgent) {
  if (presence_ != Presence::on_the_bus) throw RigFault(trouble());
  put(*outlet_, Message{mti, alias_, 0, {content.begin(), content.end()}}, urgent);
}

void Node::tell(Mti mti, NodeId destination, std::span<const std::uint8_t> content, bool urgent) {
  if (presence_ != Presence::on_the_bus) throw RigFault(trouble());
  const std::optional<Alias> alias = book_.alias(destination);
  if (!alias) throw RigFault(gone(destination));
  put(*outlet_, Message{mti, alias_, *alias, {content.begin(), content.end()}}, urgent);
}

void Node::tell(Mti mti, Alias destination, std::span<const std::uint8_t> content) {
  if (presence_ != Presence::on_the_bus) throw RigFault(trouble());
  put(*outlet_, Message{mti, alias_, destination, {content.begin(), content.end()}}, false);
}

void Node::received(std::string_view bytes, Instant heard) {
  frames_.feed(bytes);
  try {
    while (const auto frame = frames_.next()) hear(*frame, heard);
  } catch (const RigFault& fault) {  // an answer that duty demands can't be sent
    give_up(fault.what());
  }
  bell_.ring();
}

void Node::hear(const Frame& frame, Instant heard) {
  if (presence_ == Presence::duplicate) return;
  if (frame.source() == 0) return;  // nobody's alias (CAN Frame Transfer Standard 6.3), so nobody can be answered there
  const std::optional<ControlFrame> controlling = control(frame);
  if (alias_ != 0 && frame.source() == alias_) return hear_own_alias(controlling);
  if (controlling) return hear_control(*controlling);
  if (const auto message = messages_.take(frame, heard)) hear_message(*message, heard);
}

void Node::hear_own_alias(const std::optional<ControlFrame>& controlling) {
  if (presence_ == Presence::choosing_alias) {
    taken_ = true;
    return;
  }
  if (controlling && controlling->kind == Control::check_id) return send_control(reserve_id, false);
  // Somebody speaks under our alias: give it up, and come back under another.
  send_control(map_reset, true);
  alias_ = 0;
  presence_ = Presence::choosing_alias;
  bell_.ring();
}

void Node::hear_control(const ControlFrame& frame) {
  const bool on_the_bus = presence_ == Presence::on_the_bus;
  switch (frame.kind) {
    case Control::alias_map_definition:
      if (!frame.node) break;
      if (*frame.node == settings_.id) {
        if (on_the_bus) tell(Mti::event_report, event::duplicate_node_id.bytes());
        presence_ = Presence::duplicate;
        break;
      }
      book_.note(frame.source, *frame.node);
      break;
    case Control::alias_map_enquiry:
      if (on_the_bus && (!frame.node || *frame.node == settings_.id)) send_control(map_definition, true);
      if (!frame.node) book_.doubt_all();
      break;
    case Control::alias_map_reset:
      book_.forget(frame.source);
      messages_.forget(frame.source);
      break;
    case Control::check_id:
    case Control::reserve_id:
    case Control::other:
      break;
  }
}

void Node::hear_message(const Message& message, Instant heard) {
  if (presence_ != Presence::on_the_bus) {  // reports are for everybody, also for a node whose alias was taken
    if (message.mti == Mti::event_report && listener_) listener_(message, heard);
    return;
  }
  if (is_addressed(message.mti) && message.destination != alias_) return;
  do_duties(message);
  for (Expectation* expectation : expectations_) {
    if (expectation->test_(message)) expectation->met_.push_back(message);
  }
  if (listener_) listener_(message, heard);
}

}  // namespace lapwright::lcc
