// What is said of a simulated decoder: its maker's choices, and what it holds at first.
#pragma once

#include <cstdint>
#include <map>
#include <set>
#include <utility>

namespace lapwright::simulated {

/// What a decoder does where the standard leaves room, and how well it drives the motor.
struct DecoderDescription {
  bool table_scaled = false;      ///< CV2 and CV5 additionally scale the speed table (RCN-225 leaves it to the maker)
  bool trims_act = true;          ///< CV66 and CV95 are implemented
  bool table_implemented = true;  ///< CV29 bit 4 can be set
  int drive_bits = 10;            ///< resolution of the drive level behind table and trim, 8 … 10
  bool drive_cut_off = false;     ///< takes the level below the drive asked for, not the nearest
  bool regulated = true;          ///< back-EMF regulation
  double regulation = 0.97;       ///< share of a load's speed loss that regulation takes away at mid speed, 0 … 1
  bool answers_reads = false;     ///< bidirectional replies to CV access
  bool bit_writes = true;         ///< understands the bit-manipulation form
  bool address_writes = true;     ///< takes a new address in operations mode; many refuse CV1 there (from memory)
  std::set<std::pair<int, int>> pages = {};  ///< of indexed CVs: CV31 and CV32 of each that it has (RCN-225)
  std::map<int, std::uint8_t> cvs =
      {};  ///< as found on the loop; what is not named has the standard's or a usual default
};

}  // namespace lapwright::simulated
