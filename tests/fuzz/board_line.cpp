// The trackside board's lines, host side. So that mutations get past the check sum, `*=` at a line's end stands for
// the right one.
#include <vector>

#include "drivers/trackside/message.h"
#include "tests/fuzz/board_text.h"
#include "tests/fuzz/property.h"

namespace lapwright::fuzz {
namespace {

using trackside::Line;
using trackside::LineReader;

struct Reading {
  std::vector<Line> lines;
  trackside::LineCounts counts;
};

Reading read(std::string_view bytes, std::size_t piece) {
  LineReader reader;
  Reading result;
  while (!bytes.empty()) {
    const std::string_view fed = bytes.substr(0, piece);
    bytes.remove_prefix(fed.size());
    reader.feed(fed);
    while (auto line = reader.next()) result.lines.push_back(std::move(*line));
  }
  result.counts = reader.counts();
  return result;
}

bool same(const trackside::LineCounts& a, const trackside::LineCounts& b) {
  return a.good == b.good && a.bad == b.bad && a.lost == b.lost;
}

void there_and_back(const Line& line, std::string_view bytes) {
  std::string fields;
  for (const std::string& field : line.fields) fields += (fields.empty() ? "" : " ") + field;
  const std::string text = trackside::written(line.kind, line.sequence, fields);
  property(text.size() <= trackside::longest_line, "a line that is read has 80 bytes at most");
  property(bytes.find(text.substr(0, text.size() - 1)) != std::string_view::npos,
           "a line says what came, byte by byte");
  const Reading again = read(text, text.size());
  property(again.lines == std::vector{line} && again.counts.bad == 0, "a line reads back as it was written");
  property(printable(text.substr(0, text.size() - 1)), "a good line is text");
}

/// Whether the values of a message lie where PROTOCOL.md says.
struct InRange {
  bool operator()(const trackside::Hello& hello) const {
    return hello.version >= 0 && hello.version <= 255 && !hello.serial.empty() && !hello.firmware.empty();
  }
  bool operator()(const trackside::Setting& setting) const { return !setting.name.empty() && !setting.value.empty(); }
  bool operator()(const trackside::Edge& edge) const { return edge.gate >= 1 && edge.gate <= 8; }
  bool operator()(const trackside::State& state) const {
    return std::string_view("-clthbsw").find(state.fault) != std::string_view::npos && state.lease_ms >= 0 &&
           state.lease_ms <= 65535 && state.energised_s >= 0 && state.energised_s <= 65535;
  }
  bool operator()(const trackside::Answer& answer) const { return !answer.result.empty(); }
};

}  // namespace
}  // namespace lapwright::fuzz

int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  using namespace lapwright::fuzz;
  const std::string bytes = with_sums(text(data, size));
  const Reading whole = read(bytes, bytes.size() + 1);
  for (const std::size_t piece : {std::size_t{1}, std::size_t{1} + size % 83}) {
    const Reading pieces = read(bytes, piece);
    property(pieces.lines == whole.lines && same(pieces.counts, whole.counts), "pieces mean nothing");
  }
  property(whole.counts.good == whole.lines.size(), "every line that was counted is given out");
  std::string without_returns = bytes;
  std::erase(without_returns, '\r');
  for (const auto& line : whole.lines) {
    there_and_back(line, without_returns);
    if (const auto message = understood(line))
      property(std::visit(InRange(), *message), "a message's values are in range");
  }
  const std::string good = lapwright::trackside::written('a', 0, "07 ok 00001000");
  const Reading after = read(bytes + "\n" + good, bytes.size() + 1 + good.size());
  property(after.lines.size() == whole.lines.size() + 1 || after.lines.size() == whole.lines.size() + 2,
           "a good line is read after anything and a LF");
  return 0;
}
