#include "drivers/simulated/served/lcc_end.h"

#include <algorithm>
#include <cmath>

#include "tuning/rig_fault.h"

namespace lapwright::simulated {
namespace asio = boost::asio;
namespace {

constexpr std::uint16_t station = 0x249, train = 0xE7A;  // aliases
constexpr std::uint64_t station_id = 0x0501010122FF;
constexpr std::uint64_t emergency_off = 0x010000000000FFFF;
constexpr std::uint64_t search_block = 0x090099FF;
constexpr std::uint8_t cv_space = 0xF8;
constexpr double m_s_per_mph = 0.44704;

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

/// Speed of a half-precision number without its sign, m/s.
double decoded(std::uint16_t half) {
  const int exponent = (half >> 10) & 0x1F;
  const double mantissa = (half & 0x3FF) / 1024.0;
  return exponent == 0 ? mantissa * std::pow(2.0, -14) : (1 + mantissa) * std::pow(2.0, exponent - 15);
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

void LccEnd::addressed(unsigned type, std::uint16_t to, const Bytes& content) {
  for (std::size_t at = 0; at == 0 || at < content.size(); at += 6) {
    const std::size_t size = std::min<std::size_t>(6, content.size() - at);
    unsigned flags = at > 0 ? 0x20 : 0;
    if (at + size < content.size()) flags |= 0x10;
    Bytes data = {static_cast<std::uint8_t>(flags | to >> 8U), static_cast<std::uint8_t>(to)};
    data.insert(data.end(), content.begin() + static_cast<std::ptrdiff_t>(at),
                content.begin() + static_cast<std::ptrdiff_t>(at + size));
    global(type, train, data);
  }
}

void LccEnd::datagram(std::uint16_t to, const Bytes& content) {
  for (std::size_t at = 0; at < content.size(); at += 8) {
    const std::size_t size = std::min<std::size_t>(8, content.size() - at);
    const bool last = at + size == content.size();
    const std::uint32_t kind = at == 0 ? (last ? 0x1A : 0x1B) : (last ? 0x1D : 0x1C);
    frame(kind << 24U | static_cast<std::uint32_t>(to) << 12U | train,
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
    } else if (kind == 9 && data.size() >= 2 && ((data[0] & 0x0FU) << 8U | data[1]) == train && train_there_) {
      Bytes& content = unfinished_[static_cast<std::uint32_t>(middle) << 12U | source];
      if ((data[0] & 0x20U) == 0) content.clear();
      content.insert(content.end(), data.begin() + 2, data.end());
      if ((data[0] & 0x10U) != 0) continue;
      if (middle == 0x5EB) hear_train_command(source, content);
      if (middle == 0x488) global(0x170, train, bytes_of(train_id(), 6));
      if (middle == 0x828) addressed(0x668, source, {0xD4, 0x1E, 0x00});
    } else if (kind >= 0xA && kind <= 0xD && middle == train && train_there_) {
      Bytes& content = unfinished_[0xFFF000U | source];
      if (kind == 0xA || kind == 0xB) content.clear();
      content.insert(content.end(), data.begin(), data.end());
      if (kind == 0xB || kind == 0xC) continue;
      datagrams_.push_back({source, content});
    }
  }
  bell_.ring();
}

void LccEnd::hear_control(const lcc::Frame& heard) {
  const unsigned variable = (heard.header >> 12U) & 0x7FFFU;
  const std::uint16_t source = heard.source();
  if (variable >= 0x4000 && (source == station || (source == train && train_there_))) {
    frame(0x10700000U | source, {});
  }
  if (variable != 0x0702) return;
  const std::uint64_t asked = value_of(Bytes(heard.data().begin(), heard.data().end()));
  const bool all = heard.size == 0;
  if (all || asked == station_id) frame(0x10701000U | station, bytes_of(station_id, 6));
  if (train_there_ && (all || asked == train_id())) frame(0x10701000U | train, bytes_of(train_id(), 6));
}

void LccEnd::hear_global(unsigned type, std::uint16_t, const Bytes& data) {
  const std::uint64_t value = value_of(data);
  if (type == 0x490) {
    if (data.empty() || value == station_id) global(0x170, station, bytes_of(station_id, 6));
    if (train_there_ && (data.empty() || value == train_id())) global(0x170, train, bytes_of(train_id(), 6));
  } else if (type == 0x914 && data.size() == 8 && value >> 32U == search_block) {
    search(data);
  } else if (type == 0x8F4 && value == emergency_off) {
    global(powered_ ? 0x4C5 : 0x4C4, station, data);
  } else if (type == 0x5B4 && (value == emergency_off || value == emergency_off - 1)) {
    switch_power(value != emergency_off);
  } else if (type == 0x5B4 && value == emergency_off - 2) {
    estopped_ = moved_ = true;
  }
}

std::uint64_t LccEnd::train_id() const {
  const auto address = static_cast<std::uint64_t>(settings_.address);
  return 0x060100000000 | (is_long_address(settings_.address) ? 0xC000U | address : address);
}

void LccEnd::search(const Bytes& event) {
  unsigned wanted = 0;
  for (std::size_t nibble = 8; nibble < 14; ++nibble) {
    const unsigned digit = (event[nibble / 2] >> (nibble % 2 == 0 ? 4U : 0U)) & 0x0FU;
    if (digit < 10) wanted = 10 * wanted + digit;
  }
  const unsigned flags = event[7];
  const bool is_long = is_long_address(settings_.address);
  const bool forced_long = (flags & 0x04U) != 0;
  const bool kind_fits = wanted >= 128 || (forced_long ? is_long : !is_long || (flags & 0x80U) == 0);
  if (wanted != static_cast<unsigned>(settings_.address) || !kind_fits) return;
  if (!train_there_) {
    if ((flags & 0x80U) == 0) return;
    packet_steps_ = (flags & 0x03U) == 2 ? 28 : 128;
    enter_train();
  }
  global(0x544, train, event);
}

void LccEnd::enter_train() {
  train_there_ = true;
  frame(0x10701000U | train, bytes_of(train_id(), 6));
  global(0x100, train, bytes_of(train_id(), 6));
  global(0x547, train, bytes_of(0x0101000000000303, 8));
}

void LccEnd::switch_power(bool on) {
  powered_ = on;
  power_();
  moved_ = true;
}

void LccEnd::assign(std::uint16_t source, const Bytes& content) {
  controller_ = source;
  controller_id_.assign(content.begin() + 3, content.end());
  addressed(0x1E9, source, {0x20, 0x01, 0x00});
}

void LccEnd::hear_train_command(std::uint16_t source, const Bytes& content) {
  if (content.empty()) return;
  const bool its_own = source == controller_;
  const unsigned instruction = content[0];
  if (instruction == 0x20 && content.size() == 9 && content[1] == 0x01) {
    assign(source, content);
  } else if (instruction == 0x20 && content.size() >= 2 && content[1] == 0x02) {
    controller_ = 0;
  } else if (instruction == 0x20 && content.size() >= 2 && content[1] == 0x03) {
    Bytes reply = {0x20, 0x03, 0x00};
    reply.insert(reply.end(), controller_id_.begin(), controller_id_.end());
    addressed(0x1E9, source, reply);
  } else if (instruction == 0x30 && content.size() == 9) {
    Bytes reply = {0x30, content[1]};
    reply.insert(reply.end(), content.begin() + 3, content.end());
    reply.insert(reply.end(), {0, 0});
    addressed(0x1E9, source, reply);
  } else if (instruction == 0x10) {
    addressed(0x1E9, source,
              {0x10, static_cast<std::uint8_t>(half_ >> 8U), static_cast<std::uint8_t>(half_),
               static_cast<std::uint8_t>(estopped_ ? 1 : 0), 0xFF, 0xFF, 0xFF, 0xFF});
  } else if ((instruction == 0x00 || instruction == 0x02) && !its_own) {
    addressed(0x0A8, source, {0x10, 0x21, 0x05, 0xEB});
  } else if (instruction == 0x00 && content.size() == 3) {
    set_speed(static_cast<std::uint16_t>(content[1] << 8U | content[2]));
  } else if (instruction == 0x02) {
    half_ = half_ & 0x8000U;
    estopped_ = moved_ = true;
  }
}

void LccEnd::set_speed(std::uint16_t half) {
  half_ = half;
  estopped_ = false;
  moved_ = true;
}

asio::awaitable<void> LccEnd::obey() {
  moved_ = false;
  const int top = packet_steps_ == 28 ? 28 : 126;
  const double mph = decoded(half_ & 0x7FFFU) / m_s_per_mph;
  int step = static_cast<int>(std::floor(mph * top / 126 + 0.5));
  if ((half_ & 0x7FFFU) != 0) step = std::clamp(step, 1, top);
  const ThrottleCommand command{step, (half_ & 0x8000U) != 0 ? Direction::reverse : Direction::forward,
                                packet_steps_ == 28 ? StepMode::steps28 : StepMode::steps126};
  if (!rig_.railway().power()) co_return;
  if (estopped_) {
    co_await rig_.halt();
  } else {
    co_await rig_.drive(command);
  }
}

asio::awaitable<void> LccEnd::run() {
  while (!stopped_) {
    if (moved_) {
      co_await obey();
    } else if (!datagrams_.empty()) {
      co_await serve_datagram();
    } else {
      co_await bell_.wait();
    }
  }
}

asio::awaitable<void> LccEnd::serve_datagram() {
  const Datagram asked = std::move(datagrams_.front());
  datagrams_.pop_front();
  const Bytes& told = asked.content;
  if (told.size() < 8 || told[0] != 0x20 || told[6] != cv_space || (told[1] != 0x40 && told[1] != 0x00)) {
    addressed(0xA48, asked.from,
              {0x10, static_cast<std::uint8_t>(told.size() > 6 && told[6] != cv_space ? 0x81 : 0x42)});
    co_return;
  }
  addressed(0xA28, asked.from, {0x80});
  const auto address = static_cast<std::uint32_t>(value_of(Bytes(told.begin() + 2, told.begin() + 6)));
  const bool reads = told[1] == 0x40;
  Bytes reply = {0x20, static_cast<std::uint8_t>(told[1] | 0x10U)};
  reply.insert(reply.end(), told.begin() + 2, told.begin() + 7);
  std::uint16_t error = 0;
  const std::uint32_t modifier = address >> 24U;  // Train Control Technical Note 4.3.3: 0x10 … 0x17 are single bits
  const bool bit = modifier >= 0x10 && modifier <= 0x17 && settings_.bit_writes && !reads;
  const int cv = static_cast<int>(address & 0xFFFFFFU) + 1;
  if (cv > 1024 || (modifier != 0 && !bit)) {
    error = 0x1082;
  } else if (reads) {
    const std::optional<std::uint8_t> value = co_await rig_.read_cv(cv);
    if (value) reply.push_back(*value);
    if (!value) error = 0x2030;
  } else {
    CvWriteReply done{};
    if (bit) {
      done = co_await rig_.write_cv_bit(cv, static_cast<int>(modifier - 0x10), told[7] != 0);
    } else {
      done = co_await rig_.write_cv(cv, told[7]);
    }
    if (done == CvWriteReply::silent || !settings_.feedback) error = 0x2001;
  }
  if (error != 0) {
    reply[1] |= 0x08U;
    reply.push_back(static_cast<std::uint8_t>(error >> 8U));
    reply.push_back(static_cast<std::uint8_t>(error));
  }
  datagram(asked.from, reply);
}

void LccEnd::edge(int gate, bool blocked) {
  const auto at = static_cast<std::size_t>(gate);
  const auto& events = blocked ? settings_.gate_blocked : settings_.gate_clear;
  if (at < events.size()) global(0x5B4, station, bytes_of(events[at], 8));
}

}  // namespace lapwright::simulated
