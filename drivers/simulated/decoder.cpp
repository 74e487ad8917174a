#include "drivers/simulated/decoder.h"

#include <stdexcept>
#include <string>

#include "drivers/dcc/cv_meaning.h"
#include "tuning/cv.h"

namespace lapwright::simulated {
namespace {

DecoderDescription checked(const DecoderDescription& description) {
  if (description.drive_bits < 6 || description.drive_bits > 16) {
    throw std::invalid_argument("simulated decoder: drive_bits " + std::to_string(description.drive_bits) +
                                " lies outside 6 … 16; real decoders have 8 to 10");
  }
  if (!(description.regulation >= 0 && description.regulation <= 1)) {
    throw std::invalid_argument("simulated decoder: regulation " + std::to_string(description.regulation) +
                                " lies outside 0 … 1");
  }
  return description;
}

}  // namespace

Decoder::Decoder(const DecoderDescription& description)
    : traits_(checked(description)), memory_(description), regulator_(description.regulation) {
  cv_changed();
}

std::optional<std::uint8_t> Decoder::reply() const { return reply_; }

std::uint8_t Decoder::cv(int number) const { return memory_.get(number); }

void Decoder::set_cv(int number, std::uint8_t value) {
  memory_.write_on_bench(number, value);
  cv_changed();
}

void Decoder::power_cycle() { forget_volatile(); }

bool Decoder::function_on(int number) const {
  return number >= 0 && number < dcc::function_count && functions_.test(static_cast<std::size_t>(number));
}

bool Decoder::inverted() const {
  const auto consist = dcc::read_consist(cv(cv::consist_address), cv(20));
  return memory_.bit(cv::configuration, 0) != (consist && consist->reversed);
}

bool Decoder::answers(int cv_number) const {
  const bool switched_on = memory_.bit(cv::configuration, 3) && memory_.bit(28, 1);
  // A CV that does not exist is answered with NACK, a locked decoder is silent: no value either way.
  return traits_.answers_reads && switched_on && memory_.exists(cv_number) && !memory_.locked();
}

void Decoder::forget_volatile() {
  memory_.forget_volatile();
  functions_.reset();
  copies_ = 0;
  reply_.reset();
  silence_s_ = 0;
  lights_forward_ = true;
  stop_at_once();
}

}  // namespace lapwright::simulated
