#include "tests/schedules/fault.h"

#include <cstdio>

namespace lapwright::schedules {

std::optional<Bound> bound_of(Kind kind) {
  switch (kind) {
    case Kind::station_silent:
      return Bound{1.0, 1.0};  // it may be silent for 0.75 s
    case Kind::station_lost:
      return Bound{0, 0.3};
    case Kind::board_silent:
    case Kind::board_mute:
      return Bound{0.5, 0.5};  // by the lease, or after three questions without an answer
    case Kind::board_lost:
      return Bound{0, 0.5};  // by the lease
    case Kind::host_killed:
      return Bound{1, 0.5};  // by the lease
    case Kind::short_circuit:
    case Kind::sensor_at_top:
      return Bound{0.32, 0.32};  // peak_s, and 20 ms
    case Kind::sensor_dead:
      return Bound{1.05, 1.05};
    case Kind::halt_pressed:
      return Bound{0, 0.15};
    case Kind::hand:
      return Bound{0, 0.06};  // the time for which a passage has to block the beam, and two looks
    default:
      return std::nullopt;
  }
}

std::string name_of(Kind kind) {
  switch (kind) {
    case Kind::station_silent:
      return "the station is silent";
    case Kind::station_lost:
      return "the station's link is lost";
    case Kind::station_slow:
      return "the station answers late";
    case Kind::stop_ignored:
      return "speed 0 and emergency stop are ignored";
    case Kind::commands_doubled:
      return "every command is doubled";
    case Kind::power_off_ignored:
      return "the station does not switch its power off";
    case Kind::board_silent:
      return "the board is silent and deaf";
    case Kind::board_mute:
      return "the board is silent";
    case Kind::board_lost:
      return "the board's link is lost";
    case Kind::relay_welded:
      return "the relay is welded";
    case Kind::short_circuit:
      return "short circuit";
    case Kind::motor_stalled:
      return "the motor is stalled and draws current";
    case Kind::engine_lifted:
      return "the engine is off the rails";
    case Kind::engine_races:
      return "the engine races";
    case Kind::gate_dead:
      return "a gate is dead";
    case Kind::gate_chatters:
      return "a gate chatters";
    case Kind::edges_missed:
      return "edges are missed";
    case Kind::sensor_dead:
      return "the current sensor is dead";
    case Kind::sensor_at_zero:
      return "the current sensor is stuck at 0";
    case Kind::sensor_at_top:
      return "the current sensor is stuck at its top";
    case Kind::writes_refused:
      return "the decoder takes no CV writes";
    case Kind::decoder_reset:
      return "the decoder is reset";
    case Kind::hand:
      return "a hand passes a gate";
    case Kind::host_late:
      return "the host is frozen";
    case Kind::host_killed:
      return "the service is killed";
    case Kind::halt_pressed:
      return "halt is pressed";
    case Kind::stop_pressed:
      return "stop is pressed";
  }
  return "?";
}

std::string in_words(const Fault& fault) {
  char text[160];
  std::snprintf(text, sizeof text, "at %.3f s for %.3f s: %s (gate %d)", fault.at_s, fault.lasts_s,
                name_of(fault.kind).c_str(), fault.gate);
  return text;
}

}  // namespace lapwright::schedules
