// FrameReader over any bytes in any pieces.
#include "drivers/lcc/gridconnect.h"

#include <vector>

#include "tests/fuzz/property.h"

namespace lapwright::fuzz {
namespace {

using lcc::Frame;
using lcc::FrameReader;

struct Reading {
  std::vector<Frame> frames;
  lcc::FrameCounts counts;
};

/// @param piece  bytes fed at a time
Reading read(std::string_view bytes, std::size_t piece) {
  FrameReader reader;
  Reading result;
  while (!bytes.empty()) {
    const std::string_view fed = bytes.substr(0, piece);
    bytes.remove_prefix(fed.size());
    reader.feed(fed);
    while (const auto frame = reader.next()) result.frames.push_back(*frame);
  }
  result.counts = reader.counts();
  return result;
}

bool same(const lcc::FrameCounts& a, const lcc::FrameCounts& b) {
  return a.good == b.good && a.bad == b.bad && a.skipped == b.skipped;
}

void there_and_back(const Frame& frame) {
  property(frame.size <= 8 && frame.header >> 29U == 0, "a frame has at most 8 bytes and 29 bits of header");
  const std::string text = written(frame);
  const Reading again = read(text, text.size());
  property(again.frames == std::vector{frame} && again.counts.bad == 0, "a frame reads back as it was written");
  property(lcc::make_frame(frame.header, frame.data()) == frame, "bytes behind a frame's data are zero");
}

/// Whatever came before, a whole frame is read.
void recovers(std::string_view bytes) {
  const std::string good = ":X195B4345N0101020000FB000C;\n";
  const Reading after = read(std::string(bytes) + good, bytes.size() + good.size());
  property(!after.frames.empty() && written(after.frames.back()) == good, "a good frame is read after anything");
}

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright::fuzz;
  const std::string_view bytes = text(data, size);
  const Reading whole = read(bytes, size + 1);
  for (const std::size_t piece : {std::size_t{1}, std::size_t{1} + size % 29}) {
    const Reading pieces = read(bytes, piece);
    property(pieces.frames == whole.frames && same(pieces.counts, whole.counts), "pieces mean nothing");
  }
  property(whole.counts.good == whole.frames.size(), "every frame that was counted is given out");
  for (const auto& frame : whole.frames) there_and_back(frame);
  recovers(bytes);
  return 0;
}
