#include <boost/test/unit_test.hpp>

#include "tests/firmware/virtual_board.h"
namespace lapwright::firmware {
BOOST_AUTO_TEST_CASE(t) {
  VirtualBoard board(LAPWRIGHT_FIRMWARE_FOLDER "/firmware.elf");
  board.on_line = [&](const BoardLine& l) { std::printf("%9.3f ms %s\n", (double)l.begun_cycle / 16e3, l.text.c_str()); };
  board.run_us(250000);
  for (int i = 1; i < 9; ++i) {board.set_gate(i, true); board.run_us(300);}
  board.run_us(50000);
  std::printf("%s\n", board.ask('L').c_str());
  std::printf("%s\n", board.ask('P', "1").c_str());
  std::printf("%s\n", board.ask('I').c_str());
  board.run_us(700000);
  std::printf("unread %d gaps %d ram %zu\n", board.unreadable, board.gaps, board.untouched_ram());
}
}
