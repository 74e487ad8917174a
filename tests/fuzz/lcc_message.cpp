// GridConnect text to messages and datagrams, and back. A `~` between frames lets a second pass.
#include <chrono>

#include "drivers/lcc/message.h"
#include "tests/fuzz/property.h"

namespace lapwright::fuzz {
namespace {

constexpr std::size_t most_of_a_datagram = 72;
constexpr std::size_t most_of_a_message = 256;

void there_and_back(const lcc::Message& message, Instant now) {
  const bool datagram = message.mti == lcc::Mti::datagram;
  const bool addressed = is_addressed(message.mti);
  const std::size_t most = datagram ? most_of_a_datagram : addressed ? most_of_a_message : 8;
  property(message.content.size() <= most, "a message is no longer than its kind may be");
  property(message.source <= 0xFFF && message.destination <= 0xFFF, "aliases have 12 bits");
  property(addressed || message.destination == 0, "a message to everybody has no destination");
  lcc::MessageReader reader;
  std::optional<lcc::Message> again;
  for (const lcc::Frame& frame : frames_of(message)) {
    property(!again, "a message is whole with its last frame, not before");
    property(!control(frame), "a message's frames are no control frames");
    again = reader.take(frame, now);
  }
  property(again == message, "a message reads back as it was cut into frames");
  property(reader.dropped() == 0, "nothing of one's own message is dropped");
}

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright;
  using namespace lapwright::fuzz;
  lcc::FrameReader frames;
  lcc::MessageReader messages;
  Instant now{};
  std::uint64_t taken = 0;
  for (const char byte : text(data, size)) {
    if (byte == '~') now += std::chrono::seconds(1);
    frames.feed(std::string_view(&byte, 1));
    while (const auto frame = frames.next()) {
      ++taken;
      const auto message = messages.take(*frame, now);
      property(!message || !control(*frame), "a frame is the network's or a message's, not both");
      if (message) there_and_back(*message, now);
    }
  }
  property(messages.dropped() <= 2 * taken, "a frame spoils itself and at most one unfinished message");
  return 0;
}
