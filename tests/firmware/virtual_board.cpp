#include "tests/firmware/virtual_board.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#include <algorithm>
#include <cstdlib>
#include <stdexcept>

namespace lapwright::firmware {
namespace {

// Of the ATmega328P's data sheet, register summary.
constexpr std::uint16_t pin_b = 0x23, pin_c = 0x26, pin_d = 0x29, ddr_d = 0x2A, port_d = 0x2B;
constexpr std::uint16_t mcusr = 0x54, tccr1b = 0x81, ram_begin = 0x100, ram_end = 0x900;
constexpr int button_pin = 4, relay_pin = 6;
constexpr std::uint8_t untouched = 0xA5;
constexpr std::uint32_t eeprom_bytes = 1024;

void keep_quiet(avr_t*, int level, const char* format, va_list arguments) {
  if (level == LOG_ERROR) std::vfprintf(stderr, format, arguments);
}

}  // namespace

// What the simulator calls back; it hands out nothing but the avr_t or a pointer of our own.
struct VirtualBoard::Hooks {
  static VirtualBoard& board_of(void* param) { return *static_cast<VirtualBoard*>(param); }

  static avr_cycle_count_t due(avr_t*, avr_cycle_count_t, void* param) {
    board_of(param).fire_due_events();
    return 0;
  }
  static void byte_sent(avr_irq_t*, std::uint32_t value, void* param) {
    board_of(param).take_byte(static_cast<char>(value));
  }
  static void relay_moved(avr_irq_t*, std::uint32_t, void* param) { board_of(param).note_relay(); }
  static void counter_started(avr_t* avr, avr_io_addr_t, std::uint8_t value, void* param) {
    if ((value & 7) != 0) board_of(param).counter_start_cycle = avr->cycle;
  }
  // A reset forgets all timers, also ours, and reads every pin as low.
  static void was_reset(avr_t* avr) {
    VirtualBoard& board = board_of(avr->custom.data);
    avr->run_cycle_limit = 20000;
    avr->data[pin_b] = board.outside_[0];
    avr->data[pin_c] = board.outside_[1];
    avr->data[pin_d] = board.outside_[2];
    board.line_.clear();
    board.expected_sequence_ = 0;
    ++board.boots;
    board.note_relay();
    board.arm();
  }
  static void sleep(avr_t*, avr_cycle_count_t) {}  // virtual time passes by itself
};

VirtualBoard::VirtualBoard(const std::string& elf) : avr_(avr_make_mcu_by_name("atmega328p")) {
  avr_global_logger_set(keep_quiet);
  if (avr_ == nullptr) throw std::runtime_error("the simulator knows no atmega328p");
  elf_firmware_t firmware{};
  if (elf_read_firmware(elf.c_str(), &firmware) != 0) throw std::runtime_error("can't read " + elf);
  avr_init(avr_);
  avr_load_firmware(avr_, &firmware);
  std::free(firmware.flash);
  avr_->frequency = 16'000'000;
  avr_->vcc = avr_->avcc = avr_->aref = 5000;
  avr_->sleep = Hooks::sleep;
  avr_->custom.data = this;
  avr_->reset = Hooks::was_reset;
  avr_->run_cycle_limit = 20000;
  std::fill(avr_->data + ram_begin, avr_->data + ram_end, untouched);

  std::uint32_t flags = 0;
  avr_ioctl(avr_, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
  avr_irq_register_notify(avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), Hooks::byte_sent, this);
  avr_irq_register_notify(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ('D'), relay_pin), Hooks::relay_moved, this);
  avr_register_io_write(avr_, tccr1b, Hooks::counter_started, this);

  for (int gate = 1; gate <= 8; ++gate) set_gate(gate, false);
  set_button_open(false);
  set_current_mA(0);
}

VirtualBoard::~VirtualBoard() {
  avr_terminate(avr_);
  std::free(avr_);
}

std::uint64_t VirtualBoard::cycle() const { return avr_->cycle; }

void VirtualBoard::run_to(std::uint64_t cycle) {
  at(cycle, [] {});  // so that the simulator stops there, and does not sleep beyond
  while (avr_->cycle < cycle) {
    const int state = avr_run(avr_);
    if (state == cpu_Done || state == cpu_Crashed) throw std::runtime_error("the firmware crashed");
  }
}

void VirtualBoard::run_us(std::uint64_t span_us) { run_to(avr_->cycle + span_us * cycles_per_us); }

bool VirtualBoard::run_until(const std::function<bool()>& condition, std::uint64_t limit_us) {
  const std::uint64_t limit = avr_->cycle + limit_us * cycles_per_us;
  while (!condition()) {
    if (avr_->cycle >= limit) return false;
    run_to(std::min(limit, avr_->cycle + 1600));
  }
  return true;
}

void VirtualBoard::at(std::uint64_t cycle, std::function<void()> event) {
  events_[std::max<std::uint64_t>(cycle, avr_->cycle)].push_back(std::move(event));
  arm();
}

void VirtualBoard::arm() {
  if (events_.empty()) return;
  const std::uint64_t first = events_.begin()->first;
  avr_cycle_timer_register(avr_, first > avr_->cycle ? first - avr_->cycle : 0, Hooks::due, this);
}

void VirtualBoard::fire_due_events() {
  while (!events_.empty() && events_.begin()->first <= avr_->cycle) {
    auto& now = events_.begin()->second;
    const std::function<void()> event = std::move(now.front());
    now.pop_front();
    if (now.empty()) events_.erase(events_.begin());
    event();
  }
  arm();
}

void VirtualBoard::reset(Boot cause) {
  avr_reset(avr_);
  avr_->data[mcusr] = static_cast<std::uint8_t>(cause);
}

void VirtualBoard::send(const std::string& bytes, std::size_t flawed_at) {
  const bool idle = to_board_.empty();
  for (std::size_t place = 0; place < bytes.size(); ++place) {
    const int byte = static_cast<unsigned char>(bytes[place]);
    to_board_.push_back(static_cast<std::uint16_t>(place == flawed_at ? byte | UART_INPUT_FE : byte));
  }
  if (idle && !bytes.empty()) feed_byte();
}

// A byte leaves the queue when it was wholly sent.
void VirtualBoard::feed_byte() {
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), to_board_.front());
  at(avr_->cycle + byte_cycles, [this] {
    to_board_.pop_front();
    if (!to_board_.empty()) feed_byte();
  });
}

int VirtualBoard::send_line(char kind, const std::string& fields) {
  char head[8];
  std::snprintf(head, sizeof head, "%c %02X", kind, static_cast<unsigned>(host_sequence_));
  send(with_crc(head + (fields.empty() ? "" : " " + fields)));
  return host_sequence_++;
}

std::string VirtualBoard::ask(char kind, const std::string& fields) {
  const std::size_t from = lines.size();
  const int sequence = send_line(kind, fields);
  const auto answer = [&]() -> const BoardLine* {
    for (std::size_t place = from; place < lines.size(); ++place) {
      if (lines[place].kind == 'a' && static_cast<int>(lines[place].hex(0)) == sequence) return &lines[place];
    }
    return nullptr;
  };
  run_until([&] { return answer() != nullptr; }, 100'000);
  return answer() != nullptr ? answer()->fields.at(1) : "nothing";
}

void VirtualBoard::take_byte(char byte) {
  if (on_byte) on_byte(byte);
  if (line_.empty()) line_begun_ = avr_->cycle;
  line_ += byte;
  if (byte != '\n') return;
  auto line = read_line(line_);
  line_.clear();
  if (!line) {
    ++unreadable;
    return;
  }
  line->begun_cycle = line_begun_;
  line->ended_cycle = avr_->cycle;
  if (line->sequence != expected_sequence_) ++gaps;
  expected_sequence_ = (line->sequence + 1) % 256;
  if (on_line) on_line(*line);
  lines.push_back(std::move(*line));
}

State VirtualBoard::next_state() {
  const std::size_t before = count('s');
  if (!run_until([&] { return count('s') > before; }, 150'000)) throw std::runtime_error("no state line in 150 ms");
  return state_of(*last('s'));
}

const BoardLine* VirtualBoard::last(char kind) const {
  const auto found =
      std::find_if(lines.rbegin(), lines.rend(), [&](const BoardLine& line) { return line.kind == kind; });
  return found == lines.rend() ? nullptr : &*found;
}

std::size_t VirtualBoard::count(char kind) const {
  return static_cast<std::size_t>(
      std::count_if(lines.begin(), lines.end(), [&](const BoardLine& line) { return line.kind == kind; }));
}

// The external state keeps the simulator's pull-ups from overruling the wire.
void VirtualBoard::set_pin(char port, int pin, bool high) {
  std::uint8_t& levels = outside_[static_cast<std::size_t>(port - 'B')];
  const auto bit = static_cast<std::uint8_t>(1 << pin);
  levels = static_cast<std::uint8_t>(high ? levels | bit : levels & ~bit);
  avr_ioport_external_t external{};
  const std::uint32_t name = static_cast<unsigned char>(port);
  external.name = name & 0x7FU;
  external.mask = port == 'B' ? 0x07 : port == 'C' ? 0x3E : 0x10;
  external.value = levels;
  avr_ioctl(avr_, AVR_IOCTL_IOPORT_SET_EXTERNAL(name), &external);
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_IOPORT_GETIRQ(name), pin), high ? 1 : 0);
}

void VirtualBoard::set_gate(int gate, bool high) {
  if (gate <= 5) {
    set_pin('C', gate, high);
  } else {
    set_pin('B', gate - 6, high);
  }
}

bool VirtualBoard::gate_is_high(int gate) const {
  return ((gate <= 5 ? outside_[1] >> gate : outside_[0] >> (gate - 6)) & 1) != 0;
}

void VirtualBoard::set_sensor_mV(int sensor_mV) {
  const int in_range_mV = std::clamp(sensor_mV, 0, 5000);
  avr_raise_irq(avr_io_getirq(avr_, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_ADC0), static_cast<std::uint32_t>(in_range_mV));
}

void VirtualBoard::set_button_open(bool open) { set_pin('D', button_pin, open); }

bool VirtualBoard::relay_closed() const { return (avr_->data[ddr_d] & avr_->data[port_d] & (1 << relay_pin)) != 0; }

void VirtualBoard::note_relay() {
  if (relay_closed() == closed_before_) return;
  closed_before_ = relay_closed();
  relay_changes.push_back({avr_->cycle, closed_before_});
}

std::vector<std::uint8_t> VirtualBoard::eeprom() const {
  std::vector<std::uint8_t> bytes(eeprom_bytes);
  avr_eeprom_desc_t description{bytes.data(), 0, eeprom_bytes};
  avr_ioctl(avr_, AVR_IOCTL_EEPROM_GET, &description);
  return bytes;
}

void VirtualBoard::set_eeprom(const std::vector<std::uint8_t>& bytes) {
  std::vector<std::uint8_t> copy = bytes;
  avr_eeprom_desc_t description{copy.data(), 0, static_cast<std::uint32_t>(copy.size())};
  avr_ioctl(avr_, AVR_IOCTL_EEPROM_SET, &description);
}

void VirtualBoard::disturb(std::uint16_t address, std::uint8_t value) { avr_->data[address] = value; }

std::size_t VirtualBoard::untouched_ram() const {
  std::size_t longest = 0, here = 0;
  for (std::size_t place = ram_begin; place < ram_end; ++place) {
    here = avr_->data[place] == untouched ? here + 1 : 0;
    longest = std::max(longest, here);
  }
  return longest;
}

}  // namespace lapwright::firmware
