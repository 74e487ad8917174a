// What has to be true of the rails after a schedule, from what happened and from when they were live.
#pragma once

#include <string>
#include <vector>

#include "tests/schedules/fault.h"
#include "tests/schedules/feed.h"

namespace lapwright::schedules {

/// The rails as they were, in s since the job began.
struct Rails {
  double live_s = 0;  ///< since when
  double dead_s = 0;  ///< since when again
};
/// Their live times; the last one ends at `until_s` where it was not ended.
[[nodiscard]] std::vector<Rails> live_times(const std::vector<FeedChange>& changes, double until_s);

/// A cause that demanded dead rails.
struct Demand {
  Kind kind = Kind::station_silent;
  double at_s = 0;
  double bound_s = 0;
  double took_s = 0;  ///< until they were dead
  [[nodiscard]] bool met() const { return took_s <= bound_s + 1e-6; }
};
/// @param happened  faults as they came to be, while the job ran
/// Two failures at once, of which one alone is survived, demand nothing: a welded relay and a station that can't be
/// told, or a short circuit before a sensor that is stuck.
[[nodiscard]] std::vector<Demand> demands(const std::vector<Fault>& happened, const Rails& rails);

/// Nothing that happened at that time or since keeps CVs from being written.
[[nodiscard]] bool writes_arrive(const std::vector<Fault>& happened, double since_s);

/// The relay can't open and the station can't be switched off: nothing that the service could do.
[[nodiscard]] bool nobody_can_cut(const std::vector<Fault>& happened);

}  // namespace lapwright::schedules
