#include "drivers/lcc/train.h"

#include <algorithm>

#include "drivers/lcc/expectation.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;
namespace {

// Instructions of the Train Control Standard 4.3; bit 7 marks the copies that a train passes on to its listeners.
constexpr std::uint8_t set_speed_code = 0x00, emergency_stop_code = 0x02, query_speed = 0x10, controller = 0x20;
constexpr std::uint8_t listener = 0x30, management = 0x40;
constexpr std::uint8_t assign = 0x01, release = 0x02, changing = 0x04, attach = 0x01, no_operation = 0x03;
constexpr std::uint8_t copy_mark = 0x80;
constexpr std::uint8_t hidden_with_functions = 0x8C;  // hide, and pass on what is commanded
constexpr std::uint8_t refuse = 0x01;

constexpr Duration reply_within = std::chrono::seconds(3);  // Message Network Standard 3.7, Train Control 6.1
constexpr Duration others_answer_within = std::chrono::milliseconds(400);  // Train Search Standard 6.2: 200 ms and some
constexpr Duration apart = std::chrono::milliseconds(50);  // a change that is overtaken before its packet is never sent
constexpr int tries_to_halt = 3;

std::string hex(std::uint8_t high, std::uint8_t low) {
  constexpr std::string_view digits = "0123456789ABCDEF";
  std::string text = "0x";
  for (const std::uint8_t byte : {high, low}) {
    text += digits[byte >> 4U];
    text += digits[byte & 15U];
  }
  return text;
}

bool begins_with(const std::vector<std::uint8_t>& bytes, const std::vector<std::uint8_t>& begin) {
  return bytes.size() >= begin.size() && std::equal(begin.begin(), begin.end(), bytes.begin());
}

std::vector<std::uint8_t> with_id(std::vector<std::uint8_t> bytes, NodeId id) {
  const auto own = id.bytes();
  bytes.insert(bytes.end(), own.begin(), own.end());
  return bytes;
}

std::string name(const dcc::VehicleAddress& engine) {
  return std::string(engine.is_long() ? "long" : "short") + " address " + std::to_string(engine.number());
}

bool is_producer_answer(const Message& message) {
  return message.mti == Mti::producer_valid || message.mti == Mti::producer_invalid ||
         message.mti == Mti::producer_unknown;
}

}  // namespace

Train::Train(Node& node, StepLaw law, int packet_steps) : node_(node), law_(law), packet_steps_(packet_steps) {}

void Train::forget() {
  ours_ = false;
  train_.reset();
  trouble_ = "the link to the station was lost; the engine's controls have to be taken anew";
}

void Train::check() const {
  if (!train_ && trouble_.empty()) throw RigFault("no engine's controls were taken; take them first");
  if (!ours_) throw RigFault(trouble_.empty() ? "the engine's controls are not ours; take them again" : trouble_);
}

void Train::command(const Bytes& bytes, bool urgent) {
  last_command_ = node_.clock().now();
  node_.tell(Mti::train_command, *train_, bytes, urgent);
}

asio::awaitable<void> Train::space_out() {
  const Instant due = last_command_ + apart;
  if (node_.clock().now() < due) co_await node_.clock().sleep_until(due);
}

asio::awaitable<void> Train::take(dcc::VehicleAddress engine) {
  forget();
  listening_ = false;
  trouble_.clear();
  const Instant limit = node_.clock().now() + reply_within;
  co_await node_.ready(limit);
  co_await find(engine);
  co_await become_controller();
  ours_ = true;
  co_await listen_in();
}

/// Several nodes may answer, short 3 and long 3 for instance: the train is known by its node ID alone.
asio::awaitable<void> Train::find(dcc::VehicleAddress engine) {
  const EventId search = train_search(engine, packet_steps_);
  const NodeId wanted = train_node(engine);
  Expectation answers(node_, [search](const Message& message) {
    return is_producer_answer(message) && EventId::from(message.content) == search;
  });
  node_.tell(Mti::identify_producer, search.bytes());
  Instant limit = node_.clock().now() + reply_within;
  bool somebody = false;
  for (;;) {
    const std::optional<Message> answer = co_await answers.next(limit);
    if (!answer) break;
    somebody = true;
    if (!node_.node_of(answer->source)) {  // it did not say its name when it came; it may be on the bus for long
      const std::array<std::uint8_t, 0> nothing{};
      node_.tell(Mti::verify_node_global, nothing);
    }
    const Instant named_by = node_.clock().now() + others_answer_within;
    while (!node_.alias_of(wanted) && node_.clock().now() < named_by) {
      co_await node_.bell().wait_until(node_.clock(), named_by);
    }
    if (!node_.alias_of(wanted)) continue;
    train_ = wanted;
    co_return;
  }
  throw RigFault(somebody ? "trains answered to the search for " + name(engine) +
                                ", but none is the node of that DCC address (" + wanted.text() + ")"
                          : "the station neither knows nor creates a train with " + name(engine) +
                                "; is it a DCC station, and is its train service on?");
}

asio::awaitable<std::optional<Message>> Train::ask(Bytes question, Bytes reply_begins, Duration limit) {
  const NodeId train = *train_;
  Node& node = node_;
  Expectation reply(node_, [train, reply_begins, &node](const Message& message) {
    if (node.node_of(message.source) != train) return false;
    const bool refused = message.mti == Mti::interaction_rejected || message.mti == Mti::terminated_by_error;
    return refused || (message.mti == Mti::train_reply && begins_with(message.content, reply_begins));
  });
  command(question, false);
  const Instant deadline = node_.clock().now() + limit;
  std::optional<Message> answer = co_await reply.next(deadline);
  if (answer && answer->mti != Mti::train_reply) {
    const Bytes& told = answer->content;
    const std::string error = told.size() >= 2 ? hex(told[0], told[1]) : std::string("no code");
    throw RigFault("the train node " + train.text() + " rejected a command (" + error +
                   "); does the station support train control?");
  }
  co_return answer;
}

asio::awaitable<void> Train::become_controller() {
  Bytes question = with_id({controller, assign, 0}, node_.settings().id);
  Bytes begin = {controller, assign};
  const std::optional<Message> reply = co_await ask(std::move(question), std::move(begin), reply_within);
  const std::string who = "the train node " + train_->text();
  if (!reply) throw RigFault(who + " did not answer to being taken within 3 s");
  const std::uint8_t result = reply->content.size() > 2 ? reply->content[2] : 0xFF;
  if (result == 0) co_return;
  throw RigFault((result & 1U) != 0 ? "another throttle holds the engine and does not let go; release it there"
                                    : who + " refused to be taken");
}

/// So that commands of other throttles are noticed. A station that can't do it is used all the same; `listening` says
/// so.
asio::awaitable<void> Train::listen_in() {
  Bytes question = with_id({listener, attach, hidden_with_functions}, node_.settings().id);
  Bytes begin = {listener, attach};
  try {
    const std::optional<Message> reply = co_await ask(std::move(question), std::move(begin), reply_within);
    listening_ = reply.has_value();
  } catch (const RigFault&) {
    if (node_.presence() != Presence::on_the_bus) throw;
  }
}

asio::awaitable<void> Train::give_back() {
  if (!train_ || !ours_) co_return;
  co_await halt();
  command(with_id({controller, release, 0}, node_.settings().id), false);
  forget();
  trouble_.clear();
}

asio::awaitable<void> Train::drive(ThrottleCommand wanted) {
  check();
  co_await space_out();
  check();
  const std::uint16_t speed = speed_of_step(wanted, law_);
  command({set_speed_code, static_cast<std::uint8_t>(speed >> 8U), static_cast<std::uint8_t>(speed)}, false);
}

/// Anybody may ask, also who does not control the engine.
asio::awaitable<std::optional<HalfSpeed>> Train::set_speed() {
  Bytes question = {query_speed};
  Bytes begin = {query_speed};
  const std::optional<Message> reply = co_await ask(std::move(question), std::move(begin), reply_within);
  if (!reply || reply->content.size() < 3) co_return std::nullopt;
  const HalfSpeed speed = from_half(static_cast<std::uint16_t>(reply->content[1] << 8U | reply->content[2]));
  if (!speed.valid) co_return std::nullopt;
  co_return speed;
}

asio::awaitable<void> Train::halt() {
  if (!train_) throw RigFault("no engine's controls were taken; there is nothing to halt");
  for (int tries = 0; tries < tries_to_halt; ++tries) {
    command({emergency_stop_code}, true);
    co_await node_.clock().sleep_for(apart);
    const std::optional<HalfSpeed> speed = co_await set_speed();
    if (speed && speed->speed_m_s == 0) co_return;
  }
  throw RigFault("the train node " + train_->text() + " does not confirm that it stopped; cut the track's power");
}

void Train::send_halt() {
  if (!train_ || node_.presence() != Presence::on_the_bus || !node_.alias_of(*train_)) return;
  try {
    command({emergency_stop_code}, true);
  } catch (const RigFault&) {
    // The link takes nothing any more; whoever makes the track dead goes on to cut its power.
  }
}

void Train::hear(const Message& message) {
  if (!train_ || message.content.empty() || node_.node_of(message.source) != *train_) return;
  const auto& told = message.content;
  if (message.mti == Mti::train_reply && told[0] == management && told.size() >= 2 && told[1] == no_operation) {
    if (ours_) node_.tell(Mti::train_command, *train_, Bytes{management, no_operation});
  } else if (message.mti == Mti::train_command && told[0] == controller && told.size() >= 2 && told[1] == changing) {
    node_.tell(Mti::train_reply, *train_, Bytes{controller, changing, refuse});
  } else if (message.mti == Mti::train_command && (told[0] & copy_mark) != 0) {
    const unsigned instruction = told[0] & 0x7FU;
    if (instruction != set_speed_code && instruction != emergency_stop_code) return;
    ours_ = false;
    trouble_ = "another throttle commanded the engine; keep other throttles away from it while it is being tuned";
  } else if (message.mti == Mti::terminated_by_error) {
    ours_ = false;
    trouble_ = "the train node no longer takes this program's commands; another throttle may have taken the engine";
  }
}

}  // namespace lapwright::lcc
