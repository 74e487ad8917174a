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

constexpr Duration reply_within = std::chrono::seconds(3);         // Message Network Standard 3.7, Train Control 6.1
constexpr Duration names_within = std::chrono::milliseconds(400);  // whoever answers late is not waited for
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

bool is_refusal(const Message& message) {
  return message.mti == Mti::interaction_rejected || message.mti == Mti::terminated_by_error;
}

std::string code_of(const Message& refusal) {
  const auto& told = refusal.content;
  return told.size() >= 2 ? hex(told[0], told[1]) : std::string("no code");
}

/// Message Network Standard 3.3.4: error, then the type that it is about; either may be left out.
bool is_about_commands(const Message& refusal) {
  const auto& told = refusal.content;
  return told.size() < 4 || (told[2] << 8U | told[3]) == static_cast<int>(Mti::train_command);
}

bool begins_anew(const Message& message) {
  return message.mti == Mti::initialization_complete || message.mti == Mti::initialization_complete_simple;
}

/// Events by which a person stops everything: Event Identifiers Standard 5.2.
bool stops_all(const Message& message) {
  const auto event = EventId::from(message.content);
  return message.mti == Mti::event_report && (event == event::emergency_off || event == event::emergency_stop_all);
}

class Count {
 public:
  explicit Count(int& count) : count_(count) { ++count_; }
  ~Count() { --count_; }
  Count(const Count&) = delete;
  Count& operator=(const Count&) = delete;

 private:
  int& count_;
};

bool is_producer_answer(const Message& message) {
  return message.mti == Mti::producer_valid || message.mti == Mti::producer_invalid ||
         message.mti == Mti::producer_unknown;
}

}  // namespace

Train::Train(Node& node, StepLaw law, int packet_steps) : node_(node), law_(law), packet_steps_(packet_steps) {}

void Train::leave_behind() {
  if (train_) stray_ = train_;
  train_.reset();
  ours_ = false;
}

void Train::forget() {
  if (ours_)
    lose_controls(StopReason::rig_lost,
                  "the link to the station was lost; the engine's controls have to be taken anew");
  leave_behind();
}

void Train::lose_controls(StopReason reason, const std::string& why) {
  if (!ours_ && lost_) return;  // what came first was the cause
  ours_ = false;
  lost_ = Stop{reason, why};
}

void Train::check() const {
  if (ours_) return;
  throw RigFault(lost_ ? lost_->sentence : "no engine's controls were taken; take them first");
}

void Train::command(NodeId train, const Bytes& bytes, bool urgent) {
  last_command_ = node_.clock().now();
  node_.tell(Mti::train_command, train, bytes, urgent);
}

asio::awaitable<void> Train::space_out() {
  const Instant due = last_command_ + apart;
  if (node_.clock().now() < due) co_await node_.clock().sleep_until(due);
}

asio::awaitable<void> Train::take(dcc::VehicleAddress engine) {
  leave_behind();
  listening_ = false;
  lost_.reset();
  const Instant limit = node_.clock().now() + reply_within;
  co_await node_.ready(limit);
  const int opening = node_.openings();
  const NodeId train = co_await find(engine);
  co_await become_controller(train);
  if (node_.openings() != opening || node_.presence() == Presence::link_down) {
    throw RigFault("the link to the station was lost while the engine's controls were taken; take them again");
  }
  train_ = train;
  ours_ = true;
  runs_ = false;
  stray_.reset();
  node_.bell().ring();  // who watches over engines that are ours
  co_await listen_in(train);
}

/// Several nodes may answer, short 3 and long 3 for instance: the train is known by its node ID alone.
asio::awaitable<NodeId> Train::find(dcc::VehicleAddress engine) {
  const EventId search = train_search(engine, packet_steps_);
  const NodeId wanted = train_node(engine);
  Expectation answers(node_, [search](const Message& message) {
    return is_producer_answer(message) && EventId::from(message.content) == search;
  });
  node_.tell(Mti::identify_producer, search.bytes());
  const Instant limit = node_.clock().now() + reply_within;
  bool somebody = false;
  while (node_.clock().now() < limit) {  // also where answers never end
    const std::optional<Message> answer = co_await answers.next(limit);
    if (!answer) break;
    somebody = true;
    co_await name_of(answer->source);
    if (node_.node_of(answer->source) == wanted && node_.alias_of(wanted)) co_return wanted;
  }
  throw RigFault(somebody ? "trains answered to the search for " + name(engine) +
                                ", but none is the node of that DCC address (" + wanted.text() + ")"
                          : "the station neither knows nor creates a train with " + name(engine) +
                                "; is it a DCC station, and is its train service on?");
}

/// Of a node that did not say its name when it came, and may be on the bus for long. Nobody else is troubled.
asio::awaitable<void> Train::name_of(Alias stranger) {
  const auto named = [this, stranger] {
    const std::optional<NodeId> node = node_.node_of(stranger);
    return node && node_.alias_of(*node) == stranger;
  };
  if (named()) co_return;
  const std::array<std::uint8_t, 0> nothing{};
  node_.tell(Mti::verify_node_addressed, stranger, nothing);
  const Instant limit = node_.clock().now() + names_within;
  while (!named() && node_.clock().now() < limit) {
    co_await node_.bell().wait_until(node_.clock(), limit);
  }
}

asio::awaitable<std::optional<Message>> Train::ask(NodeId train, Bytes question, Bytes reply_begins) {
  Node& node = node_;
  co_await node.reach(train);
  Expectation reply(node_, [train, reply_begins, &node](const Message& message) {
    if (node.node_of(message.source) != train) return false;
    return is_refusal(message) || (message.mti == Mti::train_reply && begins_with(message.content, reply_begins));
  });
  const Count asking(asking_);
  command(train, question, false);
  const Instant deadline = node_.clock().now() + reply_within;
  std::optional<Message> answer = co_await reply.next(deadline);
  if (answer && is_refusal(*answer)) {
    throw RigFault("the train node " + train.text() + " rejected a command (" + code_of(*answer) +
                   "); does the station support train control?");
  }
  co_return answer;
}

asio::awaitable<void> Train::become_controller(NodeId train) {
  Bytes question = with_id({controller, assign, 0}, node_.settings().id);
  Bytes begin = {controller, assign};
  const std::optional<Message> reply = co_await ask(train, std::move(question), std::move(begin));
  const std::string who = "the train node " + train.text();
  if (!reply) throw RigFault(who + " did not answer to being taken within 3 s");
  const std::uint8_t result = reply->content.size() > 2 ? reply->content[2] : 0xFF;
  if (result == 0) co_return;
  throw RigFault((result & 1U) != 0 ? "another throttle holds the engine and does not let go; release it there"
                                    : who + " refused to be taken");
}

/// So that commands of other throttles are noticed. A station that can't do it is used all the same; `listening` says
/// so.
asio::awaitable<void> Train::listen_in(NodeId train) {
  Bytes question = with_id({listener, attach, hidden_with_functions}, node_.settings().id);
  Bytes begin = {listener, attach};
  try {
    const std::optional<Message> reply = co_await ask(train, std::move(question), std::move(begin));
    listening_ = reply.has_value();
  } catch (const RigFault&) {
    if (node_.presence() != Presence::on_the_bus) throw;
  }
}

asio::awaitable<void> Train::give_back() {
  if (!train_ || !ours_) co_return;
  const NodeId train = *train_;
  co_await halt();
  command(train, with_id({controller, release, 0}, node_.settings().id), false);
  train_.reset();
  ours_ = false;
  lost_.reset();
}

asio::awaitable<void> Train::drive(ThrottleCommand wanted) {
  check();
  const NodeId train = *train_;
  const int halts = halts_;
  co_await space_out();
  co_await node_.reach(train);
  check();
  if (halts_ != halts) throw RigFault("the engine was halted before the command could be sent");
  runs_ = wanted.step > 0;
  const std::uint16_t speed = speed_of_step(wanted, law_);
  command(*train_, {set_speed_code, static_cast<std::uint8_t>(speed >> 8U), static_cast<std::uint8_t>(speed)}, false);
}

void Train::ask_for_a_word() {
  if (!train_ || node_.presence() != Presence::on_the_bus) return;
  try {
    if (node_.alias_of(*train_)) {
      node_.tell(Mti::train_command, *train_, Bytes{query_speed});
    } else {
      node_.tell(Mti::verify_node_global, train_->bytes());
    }
  } catch (const RigFault&) {
    // The link takes nothing any more: no answer will come, and that is noticed.
  }
}

/// Anybody may ask, also who does not control the engine.
asio::awaitable<std::optional<HalfSpeed>> Train::set_speed(NodeId train) {
  Bytes question = {query_speed};
  Bytes begin = {query_speed};
  const std::optional<Message> reply = co_await ask(train, std::move(question), std::move(begin));
  if (!reply || reply->content.size() < 3) co_return std::nullopt;
  const HalfSpeed speed = from_half(static_cast<std::uint16_t>(reply->content[1] << 8U | reply->content[2]));
  if (!speed.valid) co_return std::nullopt;
  co_return speed;
}

asio::awaitable<void> Train::halt() {
  const std::optional<NodeId> train = train_ ? train_ : stray_;
  if (!train) throw RigFault("no engine's controls were taken; there is nothing to halt");
  ++halts_;
  runs_ = false;
  for (int tries = 0; tries < tries_to_halt; ++tries) {
    co_await node_.reach(*train);
    command(*train, {emergency_stop_code}, true);
    co_await node_.clock().sleep_for(apart);
    const std::optional<HalfSpeed> speed = co_await set_speed(*train);
    if (speed && speed->speed_m_s == 0) co_return;
  }
  throw RigFault("the train node " + train->text() + " does not confirm that it stopped; cut the track's power");
}

void Train::send_halt() {
  const std::optional<NodeId> train = train_ ? train_ : stray_;
  ++halts_;
  runs_ = false;
  if (!train || node_.presence() != Presence::on_the_bus || !node_.alias_of(*train)) return;
  try {
    command(*train, {emergency_stop_code}, true);
  } catch (const RigFault&) {
    // The link takes nothing any more; whoever makes the track dead goes on to cut its power.
  }
}

void Train::hear(const Message& message) {
  if (ours_ && stops_all(message)) {
    // The train keeps its set speed and runs on with it when the stop is cleared (Train Control Standard 6.2).
    lose_controls(
        StopReason::asked,
        "somebody on the bus stopped all trains or switched track power off; see why, then take the engine anew");
  } else if (train_ && node_.node_of(message.source) == train_) {
    hear_from_train(message);
  }
}

void Train::hear_from_train(const Message& message) {
  const auto& told = message.content;
  const auto says = [&](Mti mti, std::uint8_t instruction, std::uint8_t detail) {
    return message.mti == mti && told.size() >= 2 && told[0] == instruction && told[1] == detail;
  };
  if (says(Mti::train_reply, management, no_operation)) {
    // To the alias that asked: the train's own is not known for sure while everybody is enquired for.
    if (ours_) node_.tell(Mti::train_command, message.source, Bytes{management, no_operation});
  } else if (says(Mti::train_command, controller, changing)) {
    node_.tell(Mti::train_reply, message.source, Bytes{controller, changing, refuse});
  } else if (message.mti == Mti::train_command && !told.empty() && (told[0] & copy_mark) != 0) {
    const unsigned instruction = told[0] & 0x7FU;
    if (instruction != set_speed_code && instruction != emergency_stop_code) return;
    lose_controls(StopReason::asked,
                  "another throttle commanded the engine; keep other throttles away from it while it is being tuned");
  } else if (message.mti == Mti::terminated_by_error && is_about_commands(message)) {
    lose_controls(StopReason::asked,
                  "the train node no longer takes this program's commands; another throttle may have taken the engine");
  } else if (message.mti == Mti::interaction_rejected && asking_ == 0 && is_about_commands(message)) {
    lose_controls(StopReason::rig_lost,
                  "the train node rejected a command (" + code_of(message) + "); is the station still in order?");
  } else if (begins_anew(message)) {
    lose_controls(StopReason::rig_lost,
                  "the train node began anew, as after a restart of the station; the engine has to be taken anew");
  }
}

}  // namespace lapwright::lcc
