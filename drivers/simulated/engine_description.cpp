#include "drivers/simulated/engine_description.h"

#include "drivers/simulated/decoder_memory.h"
#include "tuning/cv.h"

namespace lapwright::simulated {

namespace {
constexpr int steps_28_bit = 0x02;
constexpr int replies_bit = 0x08;
}  // namespace

std::vector<OpaquePart> EngineDescription::opaque_parts() const {
  if (!silhouette.empty()) return silhouette;
  return {OpaquePart{0, length_mm}};
}

DecoderDescription EngineDescription::addressed_decoder() const {
  DecoderDescription result = decoder;
  const auto given = result.cvs.find(cv::configuration);
  const int usual = steps_28_bit | (decoder.answers_reads ? replies_bit : 0);
  int configuration = given == result.cvs.end() ? usual : given->second;
  const int own = obeys.value_or(address);
  if (is_long_address(own)) {
    configuration |= long_address_bit;
    result.cvs[long_address_high] = static_cast<std::uint8_t>(192 + own / 256);  // S-9.2.1 l. 103-110
    result.cvs[long_address_low] = static_cast<std::uint8_t>(own % 256);
  } else {
    configuration &= ~long_address_bit;
    result.cvs[cv::address] = static_cast<std::uint8_t>(own);
  }
  result.cvs[cv::configuration] = static_cast<std::uint8_t>(configuration);
  return result;
}

}  // namespace lapwright::simulated
