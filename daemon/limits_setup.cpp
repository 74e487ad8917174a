#include "daemon/limits_setup.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <array>
#include <set>
#include <span>
#include <string>
#include <string_view>

namespace lapwright {
namespace {

using settings::IntRange;
using settings::Range;
using settings::Section;

/// What may pass without a person: links that come back, a computer that was busy. Never what a person asked for.
constexpr std::array<StopReason, 4> can_be_retried = {StopReason::rig_lost, StopReason::host_late,
                                                      StopReason::no_passage, StopReason::no_sensor};

/// What an engine brings with it, and takes along when it leaves the track.
constexpr std::array<StopReason, 7> of_the_engine = {
    StopReason::over_current, StopReason::mean_current, StopReason::stalled,      StopReason::no_passage,
    StopReason::overspeed,    StopReason::wrong_way,    StopReason::moved_at_rest};

/// @param why_not  for a cause that is none of those: "…; these do"
std::set<std::string> read_causes(Section& rule, std::span<const StopReason> possible, std::string_view why_not) {
  std::set<std::string> causes;
  if (!rule.has("causes")) return causes;
  std::vector<std::string_view> known;
  for (const StopReason reason : possible) known.push_back(code(reason));
  for (const std::string& cause : rule.texts("causes", {.min = 0, .max = 20, .help = "codes of trips"})) {
    if (std::ranges::find(known, cause) == known.end()) {
      rule.complain("causes", fmt::format("\"{}\" {}: {}", cause, why_not, fmt::join(known, ", ")));
    }
    causes.insert(cause);
  }
  return causes;
}

void read_current(Section& limits, bool has_sensor, GuardLimits& guard) {
  const auto peak_mA = limits.maybe_number("peak_mA", Range{50, 10000, "nothing said: by the engine's scale"});
  const auto mean_mA = limits.maybe_number("mean_mA", Range{50, 10000, "nothing said: by the engine's scale"});
  guard.usual_peak = !peak_mA;
  guard.usual_mean = !mean_mA;
  guard.current.peak_mA = peak_mA.value_or(guard.current.peak_mA);
  guard.current.mean_mA = mean_mA.value_or(guard.current.mean_mA);
  guard.current.peak_s = limits.number("peak_s", Range{0, 5}, guard.current.peak_s);
  guard.accept_no_current_sensor = limits.flag("accept_no_current_sensor", guard.accept_no_current_sensor);
  if (has_sensor || guard.accept_no_current_sensor) return;
  limits.complain("accept_no_current_sensor",
                  "without a trackside board there is no current sensor: shorts and stalls go unnoticed. Add a board; "
                  "or say true here, and stay in the room");
}

void read_motion(Section& limits, MotionLimits& motion) {
  motion.coast_s =
      limits.number("coast_s", Range{0.5, 60, "from the command to stand until a passage is a fault"}, motion.coast_s);
  motion.overspeed_share =
      limits.number("overspeed_share", Range{1.1, 5, "of the sheet's top speed"}, motion.overspeed_share);
  motion.fastest_mm_s = limits.number("fastest_mm_s", Range{50, 5000, "whatever the sheet says"}, motion.fastest_mm_s);
  motion.patience_s = limits.number(
      "no_passage_s", Range{5, 3600, "without a passage, beyond what the slowest step may take"}, motion.patience_s);
  motion.stall.share = limits.number("stall_share", Range{1.2, 20, "of the current that it drew at most while it ran"},
                                     motion.stall.share);
  motion.stall.within_s =
      limits.number("stall_s", Range{1, 120, "of such a current without a passage"}, motion.stall.within_s);
  motion.braking.braking_mm_s2 =
      limits.number("braking_mm_s2", Range{50, 10000, "of an engine without momentum"}, motion.braking.braking_mm_s2);
  motion.braking.buffer_margin_mm =
      limits.number("buffer_margin_mm", Range{0, 1000, "that an engine keeps from a shuttle's ends"},
                    motion.braking.buffer_margin_mm);
}

}  // namespace

void read_guard_limits(Section& limits, bool has_sensor, GuardLimits& guard) {
  guard.writes_per_cv = limits.integer("writes_per_cv", IntRange{1, 1000}, guard.writes_per_cv);
  guard.running.continuous_s =
      limits.number("continuous_s", Range{60, 86400, "of running on end, before a rest"}, guard.running.continuous_s);
  guard.running.rest_s = limits.number("rest_s", Range{10, 7200, "of standing after it"}, guard.running.rest_s);
  read_current(limits, has_sensor, guard);
  guard.late_s = limits.number("late_s", Range{0.02, 2, "how late the computer may let the guard look"}, guard.late_s);
  read_motion(limits, guard.motion);
}

RunningCaps read_running_caps(Section& limits) {
  RunningCaps caps;
  caps.job_s = limits.number("running_s", Range{60, 86400, "the longest running of one engine in one job"}, caps.job_s);
  caps.day_s = limits.number("day_running_s", Range{60, 86400, "of one engine in a day"}, caps.day_s);
  caps.shift_s = limits.number("shift_running_s", Range{60, 604800, "of all engines in a shift"}, caps.shift_s);
  return caps;
}

RetryRule read_retry(Section limits) {
  Section retry = limits.section_or_defaults("retry");
  RetryRule rule;
  rule.times = retry.integer("times", IntRange{1, 10, "tries for one engine, before a person has to look"}, rule.times);
  rule.after_s = retry.number("after_s", Range{1, 3600, "until the next try"}, rule.after_s);
  rule.causes = read_causes(retry, can_be_retried, "always waits for a person; these need not");
  return rule;
}

LeaveRule read_leave(Section limits) {
  Section leave = limits.section_or_defaults("leave_out");
  LeaveRule rule;
  rule.engines =
      leave.integer("engines", IntRange{1, 100, "left out in a shift, before a person has to look"}, rule.engines);
  rule.causes = read_causes(leave, of_the_engine, "says nothing of the engine alone; these do");
  return rule;
}

AllowedHours read_hours(Section& root) {
  std::vector<HourWindow> windows;
  for (Section part : root.sections("hours", {.min = 0, .max = 24, .help = "when engines may run; none: always"})) {
    std::array<int, 2> minutes{};
    const std::array<const char*, 2> names = {"from", "to"};
    for (std::size_t k = 0; k < names.size(); ++k) {
      const std::string text = part.text(names[k], {}, "local time, such as \"22:00\"");
      const std::optional<int> told = minutes_of(text);
      if (!told) part.complain(names[k], "\"" + text + "\" is no time of day; write it as \"22:00\" or \"06:30\"");
      minutes[k] = told.value_or(0);
    }
    windows.push_back(HourWindow{minutes[0], minutes[1]});
  }
  return AllowedHours(std::move(windows));
}

}  // namespace lapwright
