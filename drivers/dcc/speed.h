// Speed and direction packets in 14, 28 and 126 steps, and the stops (NMRA S-9.2 §B, S-9.2.1 §2.3.2, §2.3.3).
#pragma once

#include <cstdint>

#include "drivers/dcc/address.h"
#include "drivers/dcc/packet.h"
#include "tuning/throttle.h"

namespace lapwright::dcc {

/// What a speed instruction asks for.
struct SpeedOrder {
  enum class Kind : std::uint8_t {
    stop,            ///< come to a stand under the deceleration rate
    emergency_stop,  ///< motor power off at once
    run,             ///< run at `step`
  };
  Kind kind = Kind::stop;
  int step = 0;  ///< 1 … 14, 28 or 126 when running, 0 otherwise
  Direction direction = Direction::forward;
  bool operator==(const SpeedOrder&) const = default;
};

/// The baseline instruction 01DCSSSS, whose meaning depends on the decoder's CV29 bit 1.
struct BaselineSpeed {
  std::uint8_t instruction = 0x40;
  [[nodiscard]] SpeedOrder in_28_steps() const;                           ///< CV29 bit 1 = 1
  [[nodiscard]] SpeedOrder in_14_steps() const;                           ///< CV29 bit 1 = 0
  [[nodiscard]] bool bit_4() const { return (instruction & 0x10) != 0; }  ///< FL with 14 steps
  bool operator==(const BaselineSpeed&) const = default;
};

/// First byte of the 128-step instruction (S-9.2.1 §2.3.2.1).
inline constexpr std::uint8_t speed126_instruction = 0x3F;
/// Its second byte DSSSSSSS.
[[nodiscard]] SpeedOrder decode_speed126(std::uint8_t data);

/// Packets for one vehicle. `step` is 0 (stop) … 14, 28 or 126; std::out_of_range is thrown otherwise.
[[nodiscard]] Packet speed14(VehicleAddress to, Direction direction, int step, bool headlight);
[[nodiscard]] Packet speed28(VehicleAddress to, Direction direction, int step);
[[nodiscard]] Packet speed126(VehicleAddress to, Direction direction, int step);
/// The packet for a throttle's command, in its own step mode.
[[nodiscard]] Packet speed(VehicleAddress to, ThrottleCommand command);
/// Motor power off at once, in the baseline form, which every decoder knows.
[[nodiscard]] Packet emergency_stop(VehicleAddress to, Direction direction);
/// The same in the 128-step form.
[[nodiscard]] Packet emergency_stop126(VehicleAddress to, Direction direction);

/// [FF 00 FF]: decoders take it as a packet for some other decoder (S-9.2 §B l. 89-97).
[[nodiscard]] Packet idle();
/// [00 00 00]: all volatile state is dropped and moving engines stop at once (S-9.2 §B l. 74-84).
[[nodiscard]] Packet reset();
/// Stop for every vehicle (S-9.2 §B l. 99-112).
/// @param motor_off  false: under the deceleration rate; true: motor power off at once
/// @param direction_may_be_ignored  for direction-dependent functions
[[nodiscard]] Packet broadcast_stop(Direction direction, bool direction_may_be_ignored, bool motor_off);

}  // namespace lapwright::dcc
