// What can be done to the chip's pins from outside, in words.
#pragma once

#include <string>

#include "tests/firmware/virtual_board.h"

namespace lapwright::firmware {

/// One of these, and true; false when it is none:
///     gate N 0|1        beam N (1 … 8) becomes clear or blocked
///     current mA        the track current
///     sensor mV         the current sensor's output, for a broken one
///     button 0|1        the stop button's contact is closed or open
///     reset             the reset pin; counter and epoch begin anew
bool obey_pin_word(VirtualBoard& board, const std::string& line);

}  // namespace lapwright::firmware
