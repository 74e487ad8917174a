#include "drivers/simulated/served/train_node.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <span>
#include <utility>

#include "drivers/simulated/engine_description.h"

namespace lapwright::simulated {
namespace {

constexpr double m_s_per_mph = 0.44704;
constexpr unsigned train_reply = 0x1E9, terminated = 0x0A8;

/// Speed of a half-precision number without its sign, m/s.
double decoded(std::uint16_t half) {
  const int exponent = (half >> 10) & 0x1F;
  const double mantissa = (half & 0x3FF) / 1024.0;
  return exponent == 0 ? mantissa * std::pow(2.0, -14) : (1 + mantissa) * std::pow(2.0, exponent - 15);
}

std::vector<std::uint8_t> joined(std::initializer_list<std::uint8_t> head, std::span<const std::uint8_t> tail) {
  std::vector<std::uint8_t> all(head);
  for (const std::uint8_t byte : tail) all.push_back(byte);
  return all;
}

}  // namespace

std::uint64_t TrainNode::id() const {
  const auto number = static_cast<std::uint64_t>(address_);
  return 0x060100000000 | (is_long_address(address_) ? 0xC000U | number : number);
}

bool TrainNode::take_change() { return std::exchange(changed_, false); }

ThrottleCommand TrainNode::command() const {
  const int top = packet_steps_ == 28 ? 28 : 126;
  const double mph = decoded(half_ & 0x7FFFU) / m_s_per_mph;
  int step = static_cast<int>(std::floor(mph * top / 126 + 0.5));
  if ((half_ & 0x7FFFU) != 0) step = std::clamp(step, 1, top);
  return ThrottleCommand{step, (half_ & 0x8000U) != 0 ? Direction::reverse : Direction::forward,
                         packet_steps_ == 28 ? StepMode::steps28 : StepMode::steps126};
}

void TrainNode::assign(std::uint16_t source, const Bytes& command, const Reply& reply) {
  controller_ = source;
  controller_id_.assign(command.begin() + 3, command.end());
  reply(train_reply, {0x20, 0x01, 0x00});
}

void TrainNode::hear(std::uint16_t source, const Bytes& command, const Reply& reply) {
  if (command.empty()) return;
  const bool its_own = source == controller_;
  const unsigned instruction = command[0];
  if (instruction == 0x20 && command.size() == 9 && command[1] == 0x01) {
    assign(source, command, reply);
  } else if (instruction == 0x20 && command.size() >= 2 && command[1] == 0x02) {
    controller_ = 0;
  } else if (instruction == 0x20 && command.size() >= 2 && command[1] == 0x03) {
    reply(train_reply, joined({0x20, 0x03, 0x00}, controller_id_));
  } else if (instruction == 0x30 && command.size() == 9) {
    Bytes answer = joined({0x30, command[1]}, std::span(command).subspan(3));
    answer.resize(answer.size() + 2);  // no error
    reply(train_reply, answer);
  } else if (instruction == 0x10) {
    reply(train_reply, {0x10, static_cast<std::uint8_t>(half_ >> 8U), static_cast<std::uint8_t>(half_),
                        static_cast<std::uint8_t>(estopped_ ? 1 : 0), 0xFF, 0xFF, 0xFF, 0xFF});
  } else if ((instruction == 0x00 || instruction == 0x02) && !its_own) {
    reply(terminated, {0x10, 0x21, 0x05, 0xEB});
  } else if (instruction == 0x00 && command.size() == 3) {
    half_ = static_cast<std::uint16_t>(command[1] << 8U | command[2]);
    estopped_ = false;
    changed_ = true;
  } else if (instruction == 0x02) {
    half_ = half_ & 0x8000U;
    emergency_stop();
  }
}

}  // namespace lapwright::simulated
