// How fast the parsers of outside bytes are, on streams such as the wires bring: bash tests/bench/run.sh parsers
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <functional>
#include <stdexcept>
#include <string>
#include <vector>

#include "drivers/lcc/message.h"
#include "drivers/links/traffic_log.h"
#include "drivers/settings/sheet_file.h"
#include "drivers/trackside/message.h"

namespace lapwright::bench {
namespace {

constexpr std::size_t piece_bytes = 512;  // what a serial line or a socket brings at a time
constexpr int repeats = 9;                // the median counts: others use the machine too

/// A parser, what it is fed with, and what it makes of it.
struct Trial {
  std::string name;
  std::string unit;  ///< of what comes out
  std::string bytes;
  std::function<std::size_t(const std::string&)> parse;  ///< how many came out
};

std::string times(std::size_t count, const std::function<std::string(std::size_t)>& one) {
  std::string text;
  for (std::size_t number = 0; number < count; ++number) text += one(number);
  return text;
}

/// A tune's second on the bus: gate events, speed replies, CV replies of two frames, other nodes' talk.
std::string bus_traffic() {
  return times(2000, [](std::size_t) {
    return std::string(
        ":X195B4345N0101020000FB000C;\n:X191E9E7AN1DD810530A00530A;\n:X191E9E7AN2DD8FFFF;\n:X19A28E7AN0DD880;\n"
        ":X1BDD8E7AN201800000004F820;\n:X1DDD8E7AN01;\n:X19170345N0501010122FF;\n:X10702123N;\n");
  });
}

/// A second of the board's: ten states, an answer to each renewal, some edges.
std::string board_lines() {
  return times(4000, [](std::size_t number) {
    const auto sequence = static_cast<std::uint8_t>(4 * number);
    return trackside::written('s', sequence, "0A3B2C1D 350 420 1 - 03 0000 390 1260 0") +
           trackside::written('a', static_cast<std::uint8_t>(sequence + 1), "2F ok 0A3B2C2E") +
           trackside::written('e', static_cast<std::uint8_t>(sequence + 2), "1 1 0A3B2D55 0000") +
           trackside::written('e', static_cast<std::uint8_t>(sequence + 3), "1 0 0A3C1D02 0000");
  });
}

/// A sheet of 126 steps with every point written out: about the longest file that people write.
std::string sheet() {
  std::string points = times(126, [](std::size_t number) {
    const std::string speed = std::to_string(static_cast<double>(number + 1) * 0.5);
    return std::string(number == 0 ? "" : ",") + "\n    \"" + std::to_string(number + 1) + "\": {\"speed\": " + speed +
           ", \"tolerance\": 0.1, \"tolerance_share\": 0.02}";
  });
  return R"({"name": "Every step", "unit": "mph", "steps126": {)" + points + "\n}}\n";
}

template <class Take>
void in_pieces(const std::string& bytes, const Take& take) {
  const std::string_view all = bytes;
  for (std::size_t at = 0; at < all.size(); at += piece_bytes) take(all.substr(at, piece_bytes));
}

std::size_t lcc_frames(const std::string& bytes) {
  lcc::FrameReader frames;
  std::size_t count = 0;
  in_pieces(bytes, [&](std::string_view piece) {
    frames.feed(piece);
    while (frames.next()) ++count;
  });
  return count;
}

std::size_t lcc_messages(const std::string& bytes) {
  lcc::FrameReader frames;
  lcc::MessageReader messages;
  std::size_t count = 0;
  in_pieces(bytes, [&](std::string_view piece) {
    frames.feed(piece);
    while (const auto frame = frames.next()) {
      if (control(*frame) || messages.take(*frame, Instant{})) ++count;
    }
  });
  return count;
}

std::size_t board_messages(const std::string& bytes) {
  trackside::LineReader reader;
  std::size_t count = 0;
  in_pieces(bytes, [&](std::string_view piece) {
    reader.feed(piece);
    while (const auto line = reader.next()) {
      if (understood(*line)) ++count;
    }
  });
  return count;
}

std::size_t sheet_points(const std::string& bytes) { return settings::parse_sheet(bytes, "sheet").points.size(); }

std::size_t recorded_bytes(const std::string& bytes) { return unescaped(bytes).size(); }

struct Speed {
  std::size_t count = 0;  ///< what came out of one pass
  double pass_s = 0;      ///< median
};

Speed measured(const Trial& trial) {
  using Watch = std::chrono::steady_clock;
  Speed speed;
  std::vector<double> passes_s;
  for (int pass = 0; pass < repeats; ++pass) {
    int rounds = 0;
    const Watch::time_point begin = Watch::now();
    double gone_s = 0;
    while (gone_s < 0.2) {  // long enough for the clock, short enough to repeat
      speed.count = trial.parse(trial.bytes);
      ++rounds;
      gone_s = std::chrono::duration<double>(Watch::now() - begin).count();
    }
    passes_s.push_back(gone_s / rounds);
  }
  std::ranges::sort(passes_s);
  speed.pass_s = passes_s[passes_s.size() / 2];
  return speed;
}

void report(const std::vector<Trial>& trials) {
  std::printf("%-34s %10s %12s %14s  %s\n", "parser", "stream", "MB a second", "a second", "of");
  for (const Trial& trial : trials) {
    const Speed speed = measured(trial);
    if (speed.count == 0) throw std::runtime_error(trial.name + " made nothing of its stream");
    const auto size = static_cast<double>(trial.bytes.size());
    std::printf("%-34s %7.0f kB %12.1f %14.0f  %s\n", trial.name.c_str(), size / 1e3, size / speed.pass_s / 1e6,
                static_cast<double>(speed.count) / speed.pass_s, trial.unit.c_str());
    std::fflush(stdout);
  }
}

}  // namespace
}  // namespace lapwright::bench

int main() {
  using namespace lapwright::bench;
  try {
    report({
        {"GridConnect text to frames", "frames", bus_traffic(), lcc_frames},
        {"GridConnect text to LCC messages", "messages", bus_traffic(), lcc_messages},
        {"board lines to messages", "messages", board_lines(), board_messages},
        {"a sheet's JSON to points", "points", sheet(), sheet_points},
        {"a recording's escapes to bytes", "bytes", lapwright::escaped(bus_traffic()), recorded_bytes},
    });
    return 0;
  } catch (const std::exception& error) {
    std::fprintf(stderr, "parsers: %s\n", error.what());
    return 70;
  }
}
