#include "drivers/simulated/served/lcc_end.h"

#include <algorithm>

#include "tuning/rig_fault.h"

namespace lapwright::simulated {
namespace asio = boost::asio;
namespace {

constexpr std::uint16_t station = 0x249, first_train = 0xE7A;  // aliases; trains that come later have those below
constexpr std::uint64_t station_id = 0x0501010122FF;
constexpr std::uint64_t emergency_off = 0x010000000000FFFF;
constexpr std::uint64_t search_block = 0x090099FF;
constexpr std::uint8_t cv_space = 0xF8;
constexpr std::size_t trains_at_most = 40;

std::vector<std::uint8_t> bytes_of(std::uint64_t value, int count) {
  std::vector<std::uint8_t> bytes;
  for (int at = count - 1; at >= 0; --at) bytes.push_back(static_cast<std::uint8_t>(value >> (8 * at)));
  return bytes;
}

std::uint64_t value_of(const std::vector<std::uint8_t>& bytes) {
  std::uint64_t value = 0;
  for (const std::uint8_t byte : bytes) value = value << 8U | byte;
  return value;
}

}  // namespace

LccEnd::LccEnd(SimulatedRig& rig, LccEndSettings settings, Say say, Power power)
    : rig_(rig), settings_(std::move(settings)), say_(std::move(say)), power_(std::move(power)) {}

void LccEnd::stop() {
  stopped_ = true;
  bell_.ring();
}

void LccEnd::frame(std::uint32_t header, const Bytes& data) { say_(lcc::written(lcc::make_frame(header, data))); }

void LccEnd::global(unsigned type, std::uint16_t alias, const Bytes& data) {
  frame(0x19000000U | type << 12U | alias, data);
}

void LccEnd::addressed(const TrainNode& from, unsigned type, std::uint16_t to, const Bytes& content) {
  for (std::size_t at = 0; at == 0 || at < content.size(); at += 6) {
    const std::size_t size = std::min<std::size_t>(6, content.size() - at);
    unsigned flags = at > 0 ? 0x20 : 0;
    if (at + size < content.size()) flags |= 0x10;
    Bytes data = {static_cast<std::uint8_t>(flags | to >> 8U), static_cast<std::uint8_t>(to)};
    data.insert(data.end(), content.begin() + static_cast<std::ptrdiff_t>(at),
                content.begin() + static_cast<std::ptrdiff_t>(at + size));
    global(type, from.alias(), data);
  }
}

void LccEnd::datagram(const TrainNode& from, std::uint16_t to, const Bytes& content) {
  for (std::size_t at = 0; at < content.size(); at += 8) {
    const std::size_t size = std::min<std::size_t>(8, content.size() - at);
    const bool last = at + size == content.size();
    const std::uint32_t kind = at == 0 ? (last ? 0x1A : 0x1B) : (last ? 0x1D : 0x1C);
    frame(kind << 24U | static_cast<std::uint32_t>(to) << 12U | from.alias(),
          Bytes(content.begin() + static_cast<std::ptrdiff_t>(at),
                content.begin() + static_cast<std::ptrdiff_t>(at + size)));
  }
}

void LccEnd::hear(std::string_view bytes) {
  reader_.feed(bytes);
  while (const auto heard = reader_.next()) {
    const std::uint32_t header = heard->header;
    const Bytes data(heard->data().begin(), heard->data().end());
    const std::uint16_t source = heard->source();
    const unsigned kind = (header >> 24U) & 0x0FU;
    const unsigned middle = (header >> 12U) & 0xFFFU;
    if ((kind & 8U) == 0) {
      hear_control(*heard);
    } else if (kind == 9 && (middle & 8U) == 0) {
      hear_global(middle, source, data);
    } else if (kind == 9 && data.size() >= 2) {
      const unsigned to = (data[0] & 0x0FU) << 8U | data[1];
      TrainNode* train = train_at(to);
      if (train == nullptr) continue;
      Bytes& content = unfinished_[{middle, to, source}];
      if ((data[0] & 0x20U) == 0) content.clear();
      content.insert(content.end(), data.begin() + 2, data.end());
      if ((data[0] & 0x10U) == 0) hear_addressed(*train, middle, source, content);
    } else if (kind >= 0xA && kind <= 0xD) {
      TrainNode* train = train_at(middle);
      if (train == nullptr) continue;
      Bytes& content = unfinished_[{0, middle, source}];
      if (kind == 0xA || kind == 0xB) content.clear();
      content.insert(content.end(), data.begin(), data.end());
      if (kind == 0xA || kind == 0xD) datagrams_.push_back({train, source, content});
    }
  }
  bell_.ring();
}

void LccEnd::hear_addressed(TrainNode& train, unsigned type, std::uint16_t source, const Bytes& content) {
  if (type == 0x5EB) {
    train.hear(source, content, [&](unsigned kind, const Bytes& answer) { addressed(train, kind, source, answer); });
  } else if (type == 0x488) {
    global(0x170, train.alias(), bytes_of(train.id(), 6));
  } else if (type == 0x828) {
    addressed(train, 0x668, source, {0xD4, 0x1E, 0x00});
  }
}

void LccEnd::hear_control(const lcc::Frame& heard) {
  const unsigned variable = (heard.header >> 12U) & 0x7FFFU;
  const std::uint16_t source = heard.source();
  if (variable >= 0x4000 && (source == station || train_at(source) != nullptr)) frame(0x10700000U | source, {});
  if (variable != 0x0702) return;
  const std::uint64_t asked = value_of(Bytes(heard.data().begin(), heard.data().end()));
  const bool all = heard.size == 0;
  if (all || asked == station_id) frame(0x10701000U | station, bytes_of(station_id, 6));
  for (const TrainNode& train : trains_) {
    if (all || asked == train.id()) frame(0x10701000U | train.alias(), bytes_of(train.id(), 6));
  }
}

void LccEnd::hear_global(unsigned type, std::uint16_t, const Bytes& data) {
  const std::uint64_t value = value_of(data);
  if (type == 0x490) {
    if (data.empty() || value == station_id) global(0x170, station, bytes_of(station_id, 6));
    for (const TrainNode& train : trains_) {
      if (data.empty() || value == train.id()) global(0x170, train.alias(), bytes_of(train.id(), 6));
    }
  } else if (type == 0x914 && data.size() == 8 && value >> 32U == search_block) {
    search(data);
  } else if (type == 0x914 && data.size() == 8) {
    tell_gate(value);
  } else if (type == 0x8F4 && value == emergency_off) {
    global(powered_ ? 0x4C5 : 0x4C4, station, data);
  } else if (type == 0x5B4 && (value == emergency_off || value == emergency_off - 1)) {
    switch_power(value != emergency_off);
  } else if (type == 0x5B4 && value == emergency_off - 2) {
    for (TrainNode& train : trains_) train.emergency_stop();
  } else if (type == 0x5B4) {
    const auto route = std::ranges::find(settings_.routes, value);
    if (route != settings_.routes.end()) rig_.throw_turnouts(static_cast<int>(route - settings_.routes.begin()));
  }
}

TrainNode* LccEnd::train_of(int address) {
  const auto found = std::ranges::find(trains_, address, &TrainNode::address);
  return found == trains_.end() ? nullptr : &*found;
}

TrainNode* LccEnd::train_at(unsigned alias) {
  const auto found = std::ranges::find(trains_, alias, &TrainNode::alias);
  return found == trains_.end() ? nullptr : &*found;
}

void LccEnd::search(const Bytes& event) {
  unsigned wanted = 0;
  for (std::size_t nibble = 8; nibble < 14; ++nibble) {
    const unsigned digit = (event[nibble / 2] >> (nibble % 2 == 0 ? 4U : 0U)) & 0x0FU;
    if (digit < 10) wanted = 10 * wanted + digit;
  }
  const unsigned flags = event[7];
  const bool forced_long = (flags & 0x04U) != 0;
  if (wanted > 10239 || wanted == 0 || (forced_long && wanted < 128))
    return;  // a long 3 can't be told from a short one
  TrainNode* train = train_of(static_cast<int>(wanted));
  if (train == nullptr) {
    const bool to_be_made = (flags & 0x80U) != 0;
    if (!to_be_made || trains_.size() == trains_at_most) return;
    train = &enter_train(static_cast<int>(wanted), (flags & 0x03U) == 2 ? 28 : 128);
  }
  global(0x544, train->alias(), event);
}

TrainNode& LccEnd::enter_train(int address, int packet_steps) {
  const auto alias = static_cast<std::uint16_t>(first_train - trains_.size());
  const TrainNode& train = trains_.emplace_back(address, alias, packet_steps);
  frame(0x10701000U | alias, bytes_of(train.id(), 6));
  global(0x100, alias, bytes_of(train.id(), 6));
  global(0x547, alias, bytes_of(0x0101000000000303, 8));
  return trains_.back();
}

void LccEnd::switch_power(bool on) {
  powered_ = on;
  power_();
  for (TrainNode& train : trains_) train.note_change();
}

asio::awaitable<void> LccEnd::obey(const TrainNode& train) {
  if (!rig_.railway().power()) co_return;
  const ThrottleCommand command = train.command();
  if (train.estopped()) {
    co_await rig_.halt();
  } else {
    co_await rig_.drive(command);
  }
}

asio::awaitable<void> LccEnd::run() {
  while (!stopped_) {
    TrainNode* here = train_of(settings_.address);
    if (here != nullptr && here->take_change()) {
      co_await obey(*here);
    } else if (!datagrams_.empty()) {
      co_await serve_datagram();
    } else {
      co_await bell_.wait();
    }
  }
}

/// One CV, one byte or one bit of it.
struct LccEnd::Access {
  bool here = false;  ///< the engine is on the track
  bool reads = false;
  int cv = 0;
  std::optional<int> bit;
  std::uint8_t value = 0;
};

/// Puts a byte that was read into the reply. @return the error, 0 for none
asio::awaitable<std::uint16_t> LccEnd::access(const Access& wanted, Bytes& reply) {
  constexpr std::uint16_t none = 0, unconfirmed = 0x2001, unread = 0x2030;
  if (!wanted.here) co_return wanted.reads ? unread : unconfirmed;  // no decoder answers
  if (wanted.reads) {
    const std::optional<std::uint8_t> value = co_await rig_.read_cv(wanted.cv);
    if (value) reply.push_back(*value);
    co_return value ? none : unread;
  }
  CvWriteReply done{};
  if (wanted.bit) {
    done = co_await rig_.write_cv_bit(wanted.cv, *wanted.bit, wanted.value != 0);
  } else {
    done = co_await rig_.write_cv(wanted.cv, wanted.value);
  }
  co_return done == CvWriteReply::silent || !settings_.feedback ? unconfirmed : none;
}

asio::awaitable<void> LccEnd::serve_datagram() {
  const Datagram asked = std::move(datagrams_.front());
  datagrams_.pop_front();
  const TrainNode& train = *asked.to;
  const Bytes& told = asked.content;
  if (told.size() < 8 || told[0] != 0x20 || told[6] != cv_space || (told[1] != 0x40 && told[1] != 0x00)) {
    const bool other_space = told.size() > 6 && told[6] != cv_space;
    addressed(train, 0xA48, asked.from, {0x10, static_cast<std::uint8_t>(other_space ? 0x81 : 0x42)});
    co_return;
  }
  addressed(train, 0xA28, asked.from, {0x80});
  const auto place = static_cast<std::uint32_t>(value_of(Bytes(told.begin() + 2, told.begin() + 6)));
  const std::uint32_t modifier = place >> 24U;  // Train Control Technical Note 4.3.3: 0x10 … 0x17 are single bits
  Access wanted{
      train.address() == settings_.address, told[1] == 0x40, static_cast<int>(place & 0xFFFFFFU) + 1, {}, told[7]};
  const bool bit = modifier >= 0x10 && modifier <= 0x17 && settings_.bit_writes && !wanted.reads;
  if (bit) wanted.bit = static_cast<int>(modifier - 0x10);
  Bytes reply = {0x20, static_cast<std::uint8_t>(told[1] | 0x10U)};
  reply.insert(reply.end(), told.begin() + 2, told.begin() + 7);
  std::uint16_t error = 0x1082;
  const bool possible = wanted.cv <= 1024 && (modifier == 0 || bit);
  if (possible) error = co_await access(wanted, reply);
  if (error != 0) {
    reply[1] |= 0x08U;
    reply.push_back(static_cast<std::uint8_t>(error >> 8U));
    reply.push_back(static_cast<std::uint8_t>(error));
  }
  datagram(train, asked.from, reply);
}

/// A producer says whether its event holds now.
void LccEnd::tell_gate(std::uint64_t event) {
  for (std::size_t gate = 0; gate < settings_.gate_blocked.size(); ++gate) {
    const bool of_blocked = event == settings_.gate_blocked[gate];
    if (!of_blocked && event != settings_.gate_clear[gate]) continue;
    const bool holds = blocked_gates_.contains(gate) == of_blocked;
    global(holds ? 0x544 : 0x545, station, bytes_of(event, 8));
  }
}

void LccEnd::edge(int gate, bool blocked) {
  const auto at = static_cast<std::size_t>(gate);
  if (blocked) blocked_gates_.insert(at);
  if (!blocked) blocked_gates_.erase(at);
  const auto& events = blocked ? settings_.gate_blocked : settings_.gate_clear;
  if (at < events.size()) global(0x5B4, station, bytes_of(events[at], 8));
}

}  // namespace lapwright::simulated
