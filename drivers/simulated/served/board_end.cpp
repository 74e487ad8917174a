#include "drivers/simulated/served/board_end.h"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "drivers/trackside/crc16.h"
#include "drivers/trackside/line.h"

namespace lapwright::simulated {
namespace {

constexpr Duration state_every = std::chrono::milliseconds(100);
constexpr std::uint32_t counter_at_boot_us = 0xFFC00000;  // wraps within seconds, so that nobody relies on it not to
constexpr int samples_to_trip = 2;

std::string hex(unsigned value, int digits) {
  char text[12];
  std::snprintf(text, sizeof text, "%0*X", digits, value);
  return text;
}

}  // namespace

BoardEnd::BoardEnd(BoardIdentity identity, Clock& clock, Say say, Relay relay)
    : identity_(std::move(identity)), clock_(clock), say_(std::move(say)), relay_(std::move(relay)) {}

std::uint32_t BoardEnd::stamp(Instant at) const {
  const auto passed = std::chrono::duration_cast<std::chrono::microseconds>(at - booted_).count();
  return counter_at_boot_us + static_cast<std::uint32_t>(passed);
}

void BoardEnd::boot(char cause) {
  switch_relay(false);
  ++epoch_;
  sequence_ = 0;
  unfinished_.clear();
  overrun_ = false;
  bad_lines_ = 0;
  booted_ = clock_.now();
  lease_until_ = booted_;
  state_due_ = booted_;
  fault_ = cause == 'w' ? 'w' : '-';
  cause_ = cause;
  say_hello();
}

void BoardEnd::say(char kind, const std::string& fields) { say_(trackside::written(kind, sequence_++, fields)); }

void BoardEnd::hear(std::string_view bytes) {
  for (const char byte : bytes) {
    if (byte == trackside::cut_byte) {
      unfinished_.clear();
      trip('h');
    } else if (byte == '\n') {
      if (overrun_) {
        ++bad_lines_;
      } else {
        hear_line(unfinished_);
      }
      unfinished_.clear();
      overrun_ = false;
    } else if (unfinished_.size() + 1 >= trackside::longest_line) {
      overrun_ = true;
    } else if (byte != '\r') {
      unfinished_ += byte;
    }
  }
}

void BoardEnd::hear_line(std::string_view text) {
  if (text.empty()) return;
  trackside::LineReader reader;
  reader.feed(std::string(text) + '\n');
  const auto line = reader.next();
  if (!line) {
    ++bad_lines_;
    return;
  }
  obey(line->kind, line->fields.empty() ? std::string_view() : std::string_view(line->fields.front()), line->sequence);
}

void BoardEnd::obey(char kind, std::string_view argument, std::uint8_t sequence) {
  const std::uint32_t heard = stamp(clock_.now());
  std::string_view result = "ok";
  if (kind == 'L') {
    lease_until_ = clock_.now() + identity_.lease;
  } else if (kind == 'P' && argument == "1") {
    result = close();
  } else if (kind == 'P' && argument == "0") {
    switch_relay(false);
  } else if (kind == 'P') {
    result = "args";
  } else if (kind == 'C') {
    result = clear();
  } else if (kind != 'I') {
    result = "what";
  }
  say('a', hex(sequence, 2) + ' ' + std::string(result) + ' ' + hex(heard, 8));
  if (kind == 'P' || kind == 'C') say_state();
  if (kind != 'I') return;
  say_hello();
  for (const auto& [name, value] : identity_.settings) {
    std::string fields = name;
    say('v', fields.append(" ").append(value));
  }
}

void BoardEnd::say_hello() {
  std::string text;
  for (const auto& [name, value] : identity_.settings) text.append(name).append("=").append(value).append("\n");
  say('h', "1 " + identity_.firmware + ' ' + identity_.serial + ' ' + hex(trackside::crc16(text), 4) + ' ' +
               std::to_string(epoch_) + ' ' + cause_);
}

std::string_view BoardEnd::close() {
  if (fault_ != '-') return "fault";
  if (clock_.now() >= lease_until_) return "lease";
  if (current_mA_ > identity_.trip_mA) return "over";
  if (closed_) return "ok";
  closed_since_ = clock_.now();
  switch_relay(true);
  return "ok";
}

std::string_view BoardEnd::clear() {
  if (button_) return "button";
  if (current_mA_ > identity_.trip_mA) return "over";
  fault_ = '-';
  return "ok";
}

void BoardEnd::switch_relay(bool closed) {
  if (closed == closed_) return;
  closed_ = closed;
  relay_(closed);
}

void BoardEnd::trip(char fault) {
  if (fault_ == '-') fault_ = fault;
  switch_relay(false);
  say_state();
}

void BoardEnd::edge(int gate, bool blocked, Duration age) {
  const unsigned bit = 1U << static_cast<unsigned>(gate - 1);
  blocked_ = blocked ? blocked_ | bit : blocked_ & ~bit;
  say('e', std::to_string(gate) + (blocked ? " 1 " : " 0 ") + hex(stamp(clock_.now() - age), 8) + " 0000");
}

void BoardEnd::sample(double current_mA) {
  current_mA_ = current_mA;
  sum_mA_ += current_mA;
  peak_mA_ = samples_ == 0 ? current_mA : std::max(peak_mA_, current_mA);
  ++samples_;
  samples_over_ = current_mA > identity_.trip_mA ? samples_over_ + 1 : 0;
  if (samples_over_ >= samples_to_trip && closed_) trip('c');
}

void BoardEnd::press_button(bool pressed) {
  button_ = pressed;
  if (pressed) trip('b');
}

void BoardEnd::tick() {
  const Instant now = clock_.now();
  if (closed_ && now >= lease_until_) trip('l');
  if (closed_ && now - closed_since_ >= identity_.energised) trip('t');
  if (now >= state_due_) say_state();
}

void BoardEnd::say_state() {
  const Instant now = clock_.now();
  state_due_ = now + state_every;
  const double mean_mA = samples_ > 0 ? sum_mA_ / samples_ : current_mA_;
  const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(lease_until_ - now).count();
  const auto on = std::chrono::duration_cast<std::chrono::seconds>(now - closed_since_).count();
  say('s', hex(stamp(now), 8) + ' ' + std::to_string(std::lround(mean_mA)) + ' ' +
               std::to_string(std::lround(std::max(peak_mA_, mean_mA))) + (closed_ ? " 1 " : " 0 ") + fault_ + ' ' +
               hex(blocked_, 2) + " 0000 " + std::to_string(std::max<long long>(left, 0)) + ' ' +
               std::to_string(closed_ ? on : 0) + ' ' + std::to_string(bad_lines_ % 65536));
  sum_mA_ = peak_mA_ = 0;
  samples_ = 0;
}

}  // namespace lapwright::simulated
