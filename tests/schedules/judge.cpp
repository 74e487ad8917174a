#include "tests/schedules/judge.h"

#include <algorithm>
#include <initializer_list>

namespace lapwright::schedules {
namespace {

constexpr double noticed_late_s = 0.12;  // the guard may come 0.1 s late, and looks every 10 ms
constexpr double after_waking_s = 0.05;  // two looks, and the emergency stop that goes first
constexpr double longest_lease_s = 0.5;  // 400 ms, and the 100 ms since it was renewed

const std::initializer_list<Kind> deaf_relay = {Kind::board_silent, Kind::board_lost, Kind::relay_welded};
const std::initializer_list<Kind> deaf_station = {Kind::station_silent, Kind::station_lost, Kind::power_off_ignored};
const std::initializer_list<Kind> absent_host = {Kind::host_late, Kind::host_killed};
const std::initializer_list<Kind> blind_sensor = {Kind::sensor_dead, Kind::sensor_at_zero, Kind::board_silent,
                                                  Kind::board_mute, Kind::board_lost};

bool any_within(const std::vector<Fault>& happened, std::initializer_list<Kind> which, double from_s, double to_s) {
  return std::any_of(happened.begin(), happened.end(), [&](const Fault& fault) {
    const bool listed = std::find(which.begin(), which.end(), fault.kind) != which.end();
    return listed && fault.at_s <= to_s && fault.ends_s() >= from_s;
  });
}

/// The bound with what else is wrong at the time; empty: nothing can be demanded.
std::optional<double> allowed_s(const Fault& cause, double at_s, double alone_s, const std::vector<Fault>& happened) {
  const double until_s = at_s + alone_s + longest_lease_s;
  const bool lease = !any_within(happened, {Kind::relay_welded}, at_s, until_s);
  const bool told =
      !any_within(happened, deaf_relay, at_s, until_s) || !any_within(happened, deaf_station, at_s, until_s);
  const bool watched = cause.kind == Kind::host_late || !any_within(happened, absent_host, at_s, until_s);
  if (cause.kind == Kind::host_killed) return lease ? std::optional(alone_s) : std::nullopt;
  // The way out asks the board first and waits for it, then the station: it may have gone that way before.
  const bool board_first = cause.kind == Kind::board_mute || cause.kind == Kind::board_silent;
  if (board_first && !lease) return std::nullopt;
  if (told && watched) return alone_s;
  if (!lease) return std::nullopt;
  return alone_s + longest_lease_s + (watched ? 0 : noticed_late_s + after_waking_s);
}

std::optional<Bound> bound_of_cause(const Fault& cause, const std::vector<Fault>& happened, double at_s) {
  if (cause.kind != Kind::host_late) return bound_of(cause.kind);
  const bool lease = !any_within(happened, {Kind::relay_welded}, at_s, cause.ends_s() + 1);
  const double woken_s = cause.lasts_s + after_waking_s;
  return Bound{noticed_late_s, lease ? std::min(woken_s, longest_lease_s) : woken_s};
}

bool hidden(const Fault& cause, const std::vector<Fault>& happened, double at_s, double bound_s) {
  const bool by_current = cause.kind == Kind::short_circuit || cause.kind == Kind::sensor_at_top;
  return by_current && any_within(happened, blind_sensor, at_s, at_s + bound_s);
}

}  // namespace

std::vector<Rails> live_times(const std::vector<FeedChange>& changes, double until_s) {
  std::vector<Rails> result;
  for (const FeedChange& change : changes) {
    const double at_s = in_seconds(change.at - Instant{});
    if (change.live) result.push_back({at_s, until_s});
    if (!change.live) result.back().dead_s = at_s;
  }
  return result;
}

std::vector<Demand> demands(const std::vector<Fault>& happened, const Rails& rails) {
  std::vector<Demand> result;
  for (const Fault& cause : happened) {
    const double at_s = std::max(cause.at_s, rails.live_s);
    const std::optional<Bound> bound = bound_of_cause(cause, happened, at_s);
    if (!bound || at_s >= rails.dead_s || cause.ends_s() - at_s < bound->needs_s) continue;
    const std::optional<double> allowed = allowed_s(cause, at_s, bound->dead_s, happened);
    if (!allowed || hidden(cause, happened, at_s, bound->dead_s)) continue;
    result.push_back({cause.kind, at_s, *allowed, rails.dead_s - at_s});
  }
  return result;
}

bool writes_arrive(const std::vector<Fault>& happened, double since_s) {
  return !any_within(happened,
                     {Kind::station_silent, Kind::station_lost, Kind::station_slow, Kind::writes_refused,
                      Kind::engine_lifted, Kind::host_late},
                     since_s, 1e9);
}

bool nobody_can_cut(const std::vector<Fault>& happened) {
  return std::any_of(happened.begin(), happened.end(), [&](const Fault& fault) {
    return fault.kind == Kind::relay_welded && any_within(happened, deaf_station, fault.at_s, fault.ends_s());
  });
}

}  // namespace lapwright::schedules
