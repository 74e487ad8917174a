// A simulated engine as a person describes it: body, motor, friction, warming and decoder, each with usable defaults.
#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "drivers/simulated/decoder.h"

namespace lapwright::simulated {

/// What an engine is chosen for in benches: how well its decoder can be tuned.
enum class EngineGroup : std::uint8_t { regulated, open_loop, coarse };

/// A part of the engine that interrupts a beam, in mm behind the forward end.
struct OpaquePart {
  double from_mm = 0;
  double to_mm = 0;
};

struct MotorDescription {
  double top_speed_mm_s = 420;  ///< warm, forward, on straight level track, at `volts` without a decoder's losses
  double volts = 15;            ///< track volts at which the top speed holds
  double stall_current_mA = 700;
  double time_constant_s = 0.05;  ///< electro-mechanical, without flywheels
  double flywheel = 1.0;          ///< inertia of the flywheels as a multiple of everything else's
  double reverse_emf = 0.0;       ///< EMF constant in reverse is larger by this share (brushes off neutral)
};

/// Friction counts as the share of full drive that overcomes it.
struct FrictionDescription {
  double running = 0.08;        ///< Coulomb friction, warm, forward
  double viscous = 0.04;        ///< added at top speed
  double breakaway = 1.35;      ///< friction at rest as a multiple of `running`
  double fade_mm_s = 4;         ///< speed at which half of the excess at rest is gone
  double reverse_extra = 0.05;  ///< more friction in reverse, as a share
  double wander = 0.03;         ///< slow random change in time, as a share (one standard deviation)
  double wander_s = 6;          ///< its correlation time
  double jolts_per_s = 0.15;    ///< dirt and rail joints: sudden drags that fade within half a second
  double jolt = 0.08;           ///< mean height of a jolt, as a share of `running`
};

/// Unevenness that repeats with the wheels and the gears.
struct RippleDescription {
  double wheel_mm = 110;         ///< circumference of the driving wheels
  double eccentricity = 0.003;   ///< speed ripple once a turn of the wheels, as a share
  double wheel_friction = 0.05;  ///< friction ripple once a turn of the wheels, as a share of `running`
  double gear_mm = 7.3;          ///< travel for one turn of the worm gear
  double gear_friction = 0.04;
};

struct ThermalDescription {
  double warm_up_s = 180;         ///< of the gears while running
  double motor_share = 1.6;       ///< the motor's time constant as a multiple of the gears'
  double cool_down = 3.0;         ///< cooling at rest takes longer by this factor
  double cold_friction = 0.2;     ///< more friction when cold, as a share
  double resistance_rise = 0.05;  ///< of the windings from cold to warm, as a share
  double magnet_fade = 0.006;     ///< loss of the EMF constant from cold to warm, as a share
};

struct EngineDescription {
  std::string name = "No name";
  std::string road_number;
  std::string scale = "HO";
  double ratio = 87.1;  ///< 1 : ratio
  EngineGroup group = EngineGroup::regulated;
  int address = 3;                ///< 1 … 127 short, 128 … 10239 long (S-9.2.1 §2.1)
  std::optional<int> obeys = {};  ///< address that its decoder was left at, where that is another one
  double length_mm = 180;
  std::vector<OpaquePart> silhouette;  ///< empty: closed over its whole length
  MotorDescription motor;
  FrictionDescription friction;
  RippleDescription ripple;
  ThermalDescription thermal;
  DecoderDescription decoder;

  /// The silhouette, or the whole length where none is given.
  [[nodiscard]] std::vector<OpaquePart> opaque_parts() const;
  /// The decoder with the CVs that make it answer to its address (CV1, or CV17/18 and CV29 bit 5; S-9.2.2).
  [[nodiscard]] DecoderDescription addressed_decoder() const;
};

[[nodiscard]] constexpr bool is_long_address(int address) { return address > 127; }

}  // namespace lapwright::simulated
