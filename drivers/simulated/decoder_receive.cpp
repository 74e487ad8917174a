// What a simulated decoder does with a packet.
#include <cstdlib>
#include <type_traits>
#include <variant>

#include "drivers/dcc/cv_meaning.h"
#include "drivers/simulated/decoder.h"
#include "tuning/cv.h"

namespace lapwright::simulated {
namespace {

/// Instructions whose copies are counted: two write, and a repetition carries the answer.
bool is_counted(const dcc::VehicleInstruction& instruction, bool understands_bits) {
  if (const auto* form = std::get_if<dcc::CvShortForm>(&instruction)) return form->form >= dcc::ShortForm::long_address;
  if (std::holds_alternative<dcc::CvBit>(instruction)) return understands_bits;
  return std::holds_alternative<dcc::CvVerify>(instruction) || std::holds_alternative<dcc::CvWrite>(instruction);
}

constexpr int long_address_place = 5;   // of CV29
constexpr int copies_to_write = 2;      // S-9.2.1 l. 520-526
constexpr int copies_to_read = 2;       // the value comes in a repetition (RCN-217 §5.1)
constexpr int copies_to_read_back = 3;  // copy 2 starts the write, copy 3 finds it stored

}  // namespace

struct Decoder::Addressee {
  bool own = false;
  bool consist = false;
  bool everybody = false;
};

struct Decoder::Obey {
  Decoder& decoder;
  Addressee to;

  void operator()(const dcc::Unread&) const {}
  void operator()(const dcc::BinaryState&) const {}
  void operator()(const dcc::XpomRead&) const {}
  void operator()(const dcc::XpomWrite&) const {}
  void operator()(const dcc::XpomBitWrite&) const {}

  void operator()(const dcc::DecoderControl& control) const {
    if (!to.own && !to.everybody) return;
    switch (control) {
      case dcc::DecoderControl::hard_reset:
        decoder.memory_.hard_reset();
        decoder.forget_volatile();
        break;
      case dcc::DecoderControl::reset:
        decoder.forget_volatile();
        break;
      case dcc::DecoderControl::use_short_address:
      case dcc::DecoderControl::use_long_address:
        if (to.own) write_bit(cv::configuration, long_address_place, control == dcc::DecoderControl::use_long_address);
        break;
      case dcc::DecoderControl::request_acknowledge:
        break;
    }
    decoder.cv_changed();
  }

  void operator()(const dcc::ConsistControl& control) const {
    const bool leave = control.consist == 0;
    if (!(to.own || (to.everybody && leave)) || decoder.memory_.locked()) return;
    // CV20 would turn the new address, and even a zero, into a long one.
    decoder.memory_.set_consist(static_cast<std::uint8_t>(leave ? 0 : control.consist | (control.reversed ? 0x80 : 0)),
                                0);
    decoder.cv_changed();
  }

  void operator()(const dcc::BaselineSpeed& speed) const {
    if (decoder.memory_.bit(cv::configuration, 1)) {
      run(speed.in_28_steps(), 28);
    } else if (run(speed.in_14_steps(), 14) && !to.everybody) {
      decoder.functions_.set(0, speed.bit_4());
    }
  }

  void operator()(const dcc::ExtendedSpeed& speed) const { run(speed.order, 126); }

  void operator()(const dcc::FunctionOrder& order) const {
    const int first = dcc::first_function(order.group);
    for (int at = 0; at < dcc::functions_in(order.group); ++at) {
      const int number = first + at;
      const bool from_speed_byte = number == 0 && !decoder.memory_.bit(cv::configuration, 1);
      if (from_speed_byte || !(to.own || to.everybody || followed_in_consist(number))) continue;
      decoder.functions_.set(static_cast<std::size_t>(number), ((order.on >> at) & 1) != 0);
    }
  }

  void operator()(const dcc::CvVerify& verify) const {
    if (to.own && decoder.copies_ >= copies_to_read) answer(verify.cv);
  }

  void operator()(const dcc::CvWrite& write) const {
    if (!to.own || decoder.copies_ < copies_to_write) return;
    decoder.memory_.write(write.cv, write.value);
    decoder.cv_changed();
    if (decoder.copies_ >= copies_to_read_back) answer(write.cv);
  }

  void operator()(const dcc::CvBit& order) const {
    if (!to.own || !order.write || !decoder.traits_.bit_writes || decoder.copies_ < copies_to_write) return;
    write_bit(order.cv, order.bit, order.value);
    decoder.cv_changed();
    if (decoder.copies_ >= copies_to_read_back) answer(order.cv);
  }

  void operator()(const dcc::CvShortForm& order) const {
    switch (order.form) {
      case dcc::ShortForm::acceleration_adjustment:  // these two also act on a whole consist, with one packet
        if (!to.everybody) decoder.memory_.write(cv::acceleration_adjustment, order.first);
        break;
      case dcc::ShortForm::deceleration_adjustment:
        if (!to.everybody) decoder.memory_.write(cv::deceleration_adjustment, order.first);
        break;
      case dcc::ShortForm::long_address:
        if (dcc::from_cv17_18({order.first, order.second}) && write_pair(17, order)) {
          write_bit(cv::configuration, long_address_place, true);
        }
        break;
      case dcc::ShortForm::index:
        write_pair(31, order);
        break;
      case dcc::ShortForm::consist:
        write_pair(cv::consist_address, order);
        break;
    }
    decoder.cv_changed();
  }

 private:
  /// Returns whether the order was meant for this decoder.
  bool run(const dcc::SpeedOrder& order, int steps_in_use) const {
    const bool in_consist = dcc::read_consist(decoder.cv(cv::consist_address), decoder.cv(20)).has_value();
    const bool running = order.kind == dcc::SpeedOrder::Kind::run;
    if (to.everybody ? running : in_consist && !to.consist) return false;  // only stops are for everybody
    if (order.kind == dcc::SpeedOrder::Kind::emergency_stop) {
      decoder.stop_at_once();
      return true;
    }
    const bool turned = in_consist && (decoder.cv(cv::consist_address) & 0x80) != 0;
    const bool forward = (order.direction == Direction::forward) != turned;
    if (!to.everybody) decoder.lights_forward_ = forward;
    if (running) {
      decoder.aim(forward ? order.step : -order.step, steps_in_use);
    } else {
      decoder.aim(0, decoder.steps_in_use_);
    }
    return true;
  }

  [[nodiscard]] bool followed_in_consist(int number) const {
    if (!to.consist) return false;
    if (number == 0) return decoder.memory_.bit(cv::consist_functions_0_9_12, decoder.lights_forward_ ? 0 : 1);
    if (number <= 8) return decoder.memory_.bit(cv::consist_functions_1_8, number - 1);
    if (number <= 12) return decoder.memory_.bit(cv::consist_functions_0_9_12, number - 7);
    if (number <= 20) return decoder.memory_.bit(cv::consist_functions_0_9_12, 6);  // RCN-225
    return number <= 28 && decoder.memory_.bit(cv::consist_functions_0_9_12, 7);
  }

  void write_bit(int cv_number, int bit, bool value) const {
    const int others = decoder.memory_.answered(cv_number) & ~(1 << bit);
    decoder.memory_.write(cv_number, static_cast<std::uint8_t>(others | ((value ? 1 : 0) << bit)));
  }

  bool write_pair(int lower_cv, const dcc::CvShortForm& order) const {
    if (!to.own || decoder.copies_ < copies_to_write || decoder.memory_.locked()) return false;
    decoder.memory_.write(lower_cv, order.first);
    decoder.memory_.write(lower_cv + 1, order.second);
    return decoder.cv(lower_cv) == order.first && decoder.cv(lower_cv + 1) == order.second;
  }

  void answer(int cv_number) const {
    if (decoder.answers(cv_number)) decoder.reply_ = decoder.memory_.answered(cv_number);
  }
};

Decoder::Addressee Decoder::addressee(const std::optional<dcc::VehicleAddress>& address) const {
  if (!address) return {.own = false, .consist = false, .everybody = true};
  const bool use_long = memory_.bit(cv::configuration, long_address_place);
  const int own_number = use_long ? dcc::from_cv17_18({cv(17), cv(18)}).value_or(0) : cv(cv::address);
  const auto consist = dcc::read_consist(cv(cv::consist_address), cv(20));
  return {.own = address->is_long() == use_long && address->number() == own_number,
          .consist = consist && consist->address == *address,
          .everybody = false};
}

void Decoder::receive(std::span<const std::uint8_t> packet) {
  reply_.reset();
  const auto parsed = dcc::parse(packet);
  if (!parsed) return;
  const auto* order = std::get_if<dcc::ToVehicle>(&*parsed);
  if (order == nullptr) return;
  const Addressee to = addressee(order->address);
  if (!to.own && !to.consist && !to.everybody) return;
  if (!to.everybody) silence_s_ = 0;
  count_copies(order->instruction, to.own, packet);
  std::visit(Obey{*this, to}, order->instruction);
}

void Decoder::count_copies(const dcc::VehicleInstruction& instruction, bool own, std::span<const std::uint8_t> packet) {
  if (!own || !is_counted(instruction, traits_.bit_writes)) {
    copies_ = 0;  // any other packet for this decoder, broadcast included, cancels (S-9.2.1 l. 520-526)
    return;
  }
  const dcc::Packet access = dcc::Packet::received(packet);
  copies_ = copies_ > 0 && access == last_access_ ? copies_ + 1 : 1;
  last_access_ = access;
}

}  // namespace lapwright::simulated
