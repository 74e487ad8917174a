#include "tests/firmware/pin_words.h"

#include <sstream>

namespace lapwright::firmware {

bool obey_pin_word(VirtualBoard& board, const std::string& line) {
  std::istringstream words(line);
  std::string what;
  int first = 0, second = 0;
  words >> what;
  if (what == "gate" && words >> first >> second && first >= 1 && first <= 8) {
    board.set_gate(first, second != 0);
  } else if (what == "current" && words >> first) {
    board.set_current_mA(first);
  } else if (what == "sensor" && words >> first) {
    board.set_sensor_mV(first);
  } else if (what == "button" && words >> first) {
    board.set_button_open(first != 0);
  } else if (what == "reset") {
    board.reset(VirtualBoard::Boot::reset_pin);
  } else {
    return false;
  }
  return true;
}

}  // namespace lapwright::firmware
