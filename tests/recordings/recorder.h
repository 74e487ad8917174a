// Makes recordings: the real drivers in virtual time against the firmware in the AVR simulator, or against the
// simulated station and board, written by the very TrafficLog that writes `--record FILE`.
#pragma once

#include "tests/recordings/case.h"

namespace lapwright::recordings {

/// Writes traffic.txt of a case that says `recorded from firmware` or `recorded from simulated`. By hand:
///
///     LAPWRIGHT_RECORD=NAME LAPWRIGHT_REWRITE=1 build/tests/recordings_tests
///
/// For the firmware LAPWRIGHT_BOARD names the program lockstep_board of a build with LAPWRIGHT_FIRMWARE. Bytes reach
/// the host in pieces of 4 ms, as a USB adapter passes them on: lines come torn apart.
void record(const Case& given);

}  // namespace lapwright::recordings
