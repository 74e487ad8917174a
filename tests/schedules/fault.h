// What may go wrong in a schedule, one thing at a time, and how soon the track has to be dead because of it.
#pragma once

#include <cstdint>
#include <optional>
#include <string>

namespace lapwright::schedules {

enum class Kind : std::uint8_t {
  station_silent,     ///< hears nothing and answers nothing: what is asked of it ends by the driver's time-out
  station_lost,       ///< its link is down, and the driver says so
  station_slow,       ///< does what it is told and answers late
  stop_ignored,       ///< neither speed 0 nor the emergency stop reaches the engine
  commands_doubled,   ///< whatever is sent arrives twice
  power_off_ignored,  ///< by the station
  board_silent,       ///< hears nothing and says nothing
  board_mute,         ///< hears everything and says nothing
  board_lost,         ///< its link is down, and the driver says so
  relay_welded,
  short_circuit,
  motor_stalled,
  engine_lifted,
  engine_races,  ///< the decoder takes every step for full speed
  gate_dead,
  gate_chatters,
  edges_missed,
  sensor_dead,
  sensor_at_zero,
  sensor_at_top,
  writes_refused,  ///< by the decoder
  decoder_reset,
  hand,          ///< moves something past a gate while the engine is commanded to stand
  host_late,     ///< the service gets no computing time for a while
  host_killed,   ///< … or never again
  halt_pressed,  ///< a person wants everything dead at once
  stop_pressed,  ///< in order, before the end that every schedule has
};
inline constexpr int kinds = 27;

struct Fault {
  Kind kind = Kind::station_silent;
  double at_s = 0;  ///< since the job began
  double lasts_s = 0;
  int gate = 0;  ///< where it concerns one
  [[nodiscard]] double ends_s() const { return at_s + lasts_s; }
};

/// A cause that lasts for `needs_s` while the track is live demands that it is dead `dead_s` after it began. The
/// figures are those of the README's tables and of the guard's limits, each with 20 ms for two looks of the guard.
struct Bound {
  double needs_s = 0;
  double dead_s = 0;
};
/// Empty: the cause demands nothing by itself. Motion, the mean current and the host's lateness are judged apart.
[[nodiscard]] std::optional<Bound> bound_of(Kind kind);

[[nodiscard]] std::string name_of(Kind kind);
/// "at 12.345 s for 0.8 s: the station is silent".
[[nodiscard]] std::string in_words(const Fault& fault);

}  // namespace lapwright::schedules
