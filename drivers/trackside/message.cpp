#include "drivers/trackside/message.h"

#include <charconv>
#include <limits>

namespace lapwright::trackside {
namespace {

/// Takes a line's fields one after another; one mistake spoils them all.
class Fields {
 public:
  explicit Fields(const Line& line) : fields_(line.fields) {}

  std::string word() {
    if (at_ == fields_.size()) good_ = false;
    return good_ ? fields_[at_++] : std::string();
  }
  char letter(std::string_view allowed) {
    const std::string text = word();
    good_ = good_ && text.size() == 1 && allowed.find(text.front()) != std::string_view::npos;
    return good_ ? text.front() : '?';
  }
  template <class Number>
  Number number(Number least, Number most) {
    return parse(word(), 10, least, most);
  }
  template <class Number>
  Number hex(std::size_t digits) {
    const std::string text = word();
    good_ = good_ && text.size() == digits && text.find_first_not_of("0123456789ABCDEF") == std::string::npos;
    return parse(text, 16, std::numeric_limits<Number>::min(), std::numeric_limits<Number>::max());
  }
  bool flag() { return letter("01") == '1'; }
  [[nodiscard]] bool all_good() const { return good_ && at_ == fields_.size(); }

 private:
  template <class Number>
  Number parse(const std::string& text, int base, Number least, Number most) {
    Number value{};
    const char* const end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, value, base);
    good_ = good_ && error == std::errc() && stop == end && value >= least && value <= most;
    return good_ ? value : Number{};
  }

  const std::vector<std::string>& fields_;
  std::size_t at_ = 0;
  bool good_ = true;
};

constexpr int most_mA = 20000;
constexpr std::string_view fault_letters = "-clthbsw";

Hello hello(Fields& fields) {
  Hello result;
  result.version = fields.number(0, 255);
  result.firmware = fields.word();
  result.serial = fields.word();
  result.settings = fields.hex<std::uint16_t>(4);
  result.epoch = fields.number<std::uint16_t>(0, 65535);
  result.cause = fields.letter("pebw");
  return result;
}

Setting setting(Fields& fields) {
  Setting result;
  result.name = fields.word();
  result.value = fields.word();
  return result;
}

Edge edge(Fields& fields) {
  Edge result;
  result.gate = fields.number(1, 8);
  result.blocked = fields.flag();
  result.stamp_us = fields.hex<std::uint32_t>(8);
  result.lost = fields.hex<std::uint16_t>(4);
  return result;
}

State state(Fields& fields) {
  State result;
  result.stamp_us = fields.hex<std::uint32_t>(8);
  result.current_mA = fields.number(-most_mA, most_mA);
  result.peak_mA = fields.number(-most_mA, most_mA);
  result.relay_closed = fields.flag();
  result.fault = fields.letter(fault_letters);
  result.blocked_gates = fields.hex<std::uint8_t>(2);
  result.lost = fields.hex<std::uint16_t>(4);
  result.lease_ms = fields.number(0, 65535);
  result.energised_s = fields.number(0, 65535);
  result.bad_lines = fields.number(0, 65535);
  return result;
}

Answer answer(Fields& fields) {
  Answer result;
  result.of = fields.hex<std::uint8_t>(2);
  result.result = fields.word();
  result.stamp_us = fields.hex<std::uint32_t>(8);
  return result;
}

}  // namespace

std::optional<Message> understood(const Line& line) {
  Fields fields(line);
  std::optional<Message> message;
  switch (line.kind) {
    case 'h': {
      const Hello read = hello(fields);
      // Another version's hello may say more: it must still be recognised to be refused.
      if (read.version > 1 && !read.serial.empty()) return read;
      message = read;
      break;
    }
    case 'v':
      message = setting(fields);
      break;
    case 'e':
      message = edge(fields);
      break;
    case 's':
      message = state(fields);
      break;
    case 'a':
      message = answer(fields);
      break;
    default:
      return std::nullopt;
  }
  return fields.all_good() ? message : std::nullopt;
}

std::string describe_fault(char fault) {
  switch (fault) {
    case '-':
      return "no fault";
    case 'c':
      return "the current was above the board's trip: short circuit or blocked wheels";
    case 'l':
      return "the lease ran out: the host did not renew it in time";
    case 't':
      return "the track was energised for as long as the board allows in one go";
    case 'h':
      return "the host cut the power";
    case 'b':
      return "the stop button is pressed, or its wire is broken";
    case 's':
      return "the current sensor reads at an end of its range: it or its wiring is broken";
    case 'w':
      return "the board's program hung and its watchdog reset it";
    default:
      return std::string("unknown fault ") + fault;
  }
}

StopReason stop_reason(char fault) {
  switch (fault) {
    case 'c':
      return StopReason::over_current;
    case 't':
      return StopReason::energised;
    case 'b':
      return StopReason::asked;
    case 's':
      return StopReason::no_sensor;
    default:
      return StopReason::rig_lost;
  }
}

}  // namespace lapwright::trackside
