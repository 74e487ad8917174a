// lockstep_board release|test: the real firmware in the simulated chip, in steps that another process asks for: for
// recordings in virtual time (tests/recordings/recorder.h). A process of its own, so that nothing else is linked with
// the simulator.
//
// On stdin, one a line:
//     send BYTES        on the board's receiver; C escapes as in recordings
//     run us            lets so much time pass; answered with one line on stdout: the bytes that the board sent
//     chatter N us TIMES  meanwhile gate N changes every so many microseconds, so many times
// and the words of pin_words.h.
#include <iostream>
#include <sstream>

#include "tests/firmware/host.h"
#include "tests/firmware/pin_words.h"

namespace lapwright::firmware {
namespace {

constexpr std::string_view digits = "0123456789ABCDEF";

std::string escaped(const std::string& bytes) {
  std::string text;
  for (const char byte : bytes) {
    const auto value = static_cast<unsigned char>(byte);
    if (byte == '\n') {
      text += "\\n";
    } else if (byte == '\\') {
      text += "\\\\";
    } else if (value < 0x20 || value > 0x7E) {
      text += std::string("\\x") + digits[value >> 4U] + digits[value & 15U];
    } else {
      text += byte;
    }
  }
  return text;
}

std::string unescaped(const std::string& text) {
  std::string bytes;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] != '\\') {
      bytes += text[at];
    } else if (text.at(++at) == 'n') {
      bytes += '\n';
    } else if (text[at] == 'x') {
      bytes += static_cast<char>(16 * digits.find(text.at(at + 1)) + digits.find(text.at(at + 2)));
      at += 2;
    } else {
      bytes += text[at];
    }
  }
  return bytes;
}

void chatter(VirtualBoard& board, int gate, int every_us, int times) {
  for (int change = 1; change <= times; ++change) {
    const auto at = board.cycle() + static_cast<std::uint64_t>(change) * static_cast<std::uint64_t>(every_us) * 16;
    board.at(at, [&board, gate] { board.set_gate(gate, !board.gate_is_high(gate)); });
  }
}

void obey(VirtualBoard& board, const std::string& line, std::string& said) {
  std::istringstream words(line);
  std::string what;
  int first = 0, second = 0, third = 0;
  words >> what;
  if (what == "send") {
    board.send(unescaped(line.substr(5)));
  } else if (what == "run" && words >> first) {
    board.run_us(static_cast<std::uint64_t>(first));
    std::cout << escaped(said) << std::endl;
    said.clear();
  } else if (what == "chatter" && words >> first >> second >> third) {
    chatter(board, first, second, third);
  } else if (!obey_pin_word(board, line)) {
    std::cerr << "not understood: " << line << "\n";
  }
  board.lines.clear();
}

}  // namespace
}  // namespace lapwright::firmware

int main(int count, char** arguments) {
  using namespace lapwright::firmware;
  const bool test_build = count > 1 && std::string(arguments[1]) == "test";
  VirtualBoard board(test_build ? test_elf : release_elf);
  std::string said;
  board.on_byte = [&said](char byte) { said += byte; };
  for (std::string line; std::getline(std::cin, line);) obey(board, line, said);
  return 0;
}
