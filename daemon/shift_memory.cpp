#include "daemon/shift_memory.h"

#include <algorithm>

namespace lapwright {

ShiftMemory::ShiftMemory(Storage& storage, const std::filesystem::path& folder, const Calendar& calendar,
                         RunningCaps caps, RetryRule retry)
    : storage_(storage),
      folder_(folder),
      calendar_(calendar),
      limits_(caps),
      retry_(std::move(retry)),
      trips_(storage, folder),
      ledger_(storage, folder) {}

bool ShiftMemory::keep(const std::string& engine, const Stop& stop) {
  const std::optional<Trip> before = trip();
  const int tries = before && before->engine == engine ? before->tries : 0;
  const std::string why(code(stop.reason));
  const bool again = retry_.causes.contains(why) && tries < retry_.times;
  trips_.write(
      Trip{why, stop.sentence, engine, time_text(calendar_.now()), stop.evidence, tries + (again ? 1 : 0), again});
  return again;
}

void ShiftMemory::clear() { trips_.clear(); }

void ShiftMemory::ran(const std::string& engine, double running_s, double tired_s) {
  ledger_.tires(engine, Tiredness{tired_s, calendar_.now()});
  ledger_.add(date_text(calendar_.now()), engine, running_s);
}

/// By the time of day: the service may have been started anew meanwhile. Where it was set back nothing has rested.
double ShiftMemory::tired_s(const std::string& engine, double recovers) const {
  const Tiredness last = ledger_.tiredness(engine);
  const double rested_s = std::max(0.0, std::difftime(calendar_.now(), last.at));
  return std::max(0.0, last.tired_s - recovers * rested_s);
}

std::vector<RunningCap> ShiftMemory::caps(const std::string& engine) const {
  const double today_s = ledger_.ran_s(date_text(calendar_.now()), engine);
  return {{"of one engine in one job", limits_.job_s, limits_.job_s},
          {"of one engine in a day", limits_.day_s, limits_.day_s - today_s},
          {"of all engines in a shift", limits_.shift_s, limits_.shift_s - ledger_.shift_ran_s()}};
}

}  // namespace lapwright
