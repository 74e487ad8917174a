// The meaning of a received packet: bytes in, one of the standard's instructions out (NMRA S-9.2, S-9.2.1).
#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <variant>

#include "drivers/dcc/accessory.h"
#include "drivers/dcc/address.h"
#include "drivers/dcc/cv_access.h"
#include "drivers/dcc/function_group.h"
#include "drivers/dcc/speed.h"
#include "drivers/dcc/vehicle_control.h"
#include "drivers/dcc/xpom.h"

namespace lapwright::dcc {

struct Idle {
  bool operator==(const Idle&) const = default;
};

/// Undamaged, but reserved or of a form that this program does not read. It still counts as a packet.
struct Unread {
  bool operator==(const Unread&) const = default;
};

/// The 128-step instruction, already understood: no CV changes its meaning.
struct ExtendedSpeed {
  SpeedOrder order;
  bool operator==(const ExtendedSpeed&) const = default;
};

/// Binary state (S-9.2.1 §2.3.6): 1 … 32767, 0 for all.
struct BinaryState {
  int number = 0;
  bool on = false;
  bool operator==(const BinaryState&) const = default;
};

using VehicleInstruction =
    std::variant<Unread, DecoderControl, ConsistControl, BaselineSpeed, ExtendedSpeed, FunctionOrder, BinaryState,
                 CvVerify, CvWrite, CvBit, CvShortForm, XpomRead, XpomWrite, XpomBitWrite>;

/// An instruction for one vehicle, or for all.
struct ToVehicle {
  std::optional<VehicleAddress> address;  ///< empty: broadcast
  VehicleInstruction instruction;
  bool operator==(const ToVehicle&) const = default;
};

using Instruction = std::variant<Unread, Idle, ToVehicle, BasicAccessory, ExtendedAccessory>;

/// Empty when the packet is too short or its error byte is wrong, so that a decoder has to ignore it (S-9.2 l. 67-69).
/// Packets in service mode look the same as those to short addresses 112 … 127: see service_mode.h.
[[nodiscard]] std::optional<Instruction> parse(std::span<const std::uint8_t> packet);

}  // namespace lapwright::dcc
