// Recorded bytes as text, there and back; and any text as a recording's.
#include "drivers/links/traffic_log.h"

#include <algorithm>
#include <stdexcept>

#include "tests/fuzz/property.h"

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright;
  using namespace lapwright::fuzz;
  const std::string_view bytes = text(data, size);
  const std::string recorded = escaped(bytes);
  const auto plain = [](char letter) { return letter >= 0x20 && letter <= 0x7E; };
  property(std::ranges::all_of(recorded, plain), "a recording holds printable ASCII alone, one event a line");
  property(unescaped(recorded) == bytes, "recorded bytes come back");
  try {
    const std::string meant = unescaped(bytes);
    property(unescaped(escaped(meant)) == meant, "what was read from a recording can be recorded");
    property(meant.size() <= bytes.size(), "an escape stands for one byte");
  } catch (const std::invalid_argument& refused) {  // the one refusal that `unescaped` states
    property(refused.what()[0] != '\0', "a refusal says why");
  }
  return 0;
}
