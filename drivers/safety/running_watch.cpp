#include "drivers/safety/running_watch.h"

#include <algorithm>

#include "drivers/safety/whole_number.h"

namespace lapwright {
namespace {

constexpr double rested_s = 0.1;                        // what is left to rest is never too short to be waited for
constexpr Duration patience = std::chrono::minutes(3);  // for the slowest pass to come to its end

}  // namespace

RunningWatch::RunningWatch(RunningLimits limits, Instant begun)
    : limits_(std::move(limits)), since_(begun), tired_s_(std::min(limits_.tired_s, limits_.continuous_s)) {}

double RunningWatch::running_s(Instant now) const { return ran_s_ + (runs_ ? in_seconds(now - since_) : 0.0); }

double RunningWatch::tired_s(Instant now) const {
  const double passed_s = in_seconds(now - since_);
  if (runs_) return tired_s_ + passed_s;
  return std::max(0.0, tired_s_ - passed_s * limits_.continuous_s / limits_.rest_s);
}

void RunningWatch::runs(Instant now, bool runs) {
  ran_s_ = running_s(now);
  tired_s_ = std::min(tired_s(now), limits_.continuous_s);  // a rest that came late is no longer than others
  since_ = now;
  runs_ = runs;
}

double RunningWatch::rest_due_s(Instant now) {
  const double tired = tired_s(now);
  if (!due_since_ && tired >= limits_.continuous_s) due_since_ = now;
  if (tired < rested_s) due_since_.reset();
  if (!due_since_) return 0;
  return std::min(tired, limits_.continuous_s) * limits_.rest_s / limits_.continuous_s;
}

bool RunningWatch::overdue(Instant now) { return runs_ && rest_due_s(now) > 0 && now - *due_since_ > patience; }

std::optional<Stop> RunningWatch::look(Instant now) const {
  for (const RunningCap& cap : limits_.caps) {
    if (running_s(now) <= cap.left_s) continue;
    return Stop{StopReason::running_time, "the running time " + cap.what + " is used up, " + whole(cap.limit_s) +
                                              " s. Let it cool; what is left can be done in another shift"};
  }
  return std::nullopt;
}

}  // namespace lapwright
