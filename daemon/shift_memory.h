// What outlives a job and a restart: the last trip, and how long the engines ran.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/calendar.h"
#include "daemon/running_ledger.h"
#include "daemon/shift_rules.h"
#include "daemon/trip_file.h"
#include "drivers/safety/running_watch.h"

namespace lapwright {

class ShiftMemory {
 public:
  /// @param folder  for its files; empty: nothing is kept. @throws FileLost
  ShiftMemory(Storage& storage, const std::filesystem::path& folder, const Calendar& calendar, RunningCaps caps,
              RetryRule retry);

  [[nodiscard]] std::optional<Trip> trip() const { return trips_.read(); }
  /// Keeps a stop that latches; says whether the rule allows another try. @throws FileLost
  bool keep(const std::string& engine, const Stop& stop);
  /// A person has looked, or a job went well. @throws FileLost
  void clear();

  /// Its running time counts on where a restart has left it; another shift's begins anew.
  void take_up_shift(std::int64_t shift) { ledger_.take_up_shift(shift); }
  /// The engine ran for so long since the last time it was told. @param tired_s  of running on end. @throws FileLost
  void ran(const std::string& engine, double running_s, double tired_s = 0);
  /// Of running on end, less what it has rested since. @param recovers  seconds of it in a second of standing
  [[nodiscard]] double tired_s(const std::string& engine, double recovers) const;
  /// For the guard: what of each cap is left. A day is the day on which the job begins.
  [[nodiscard]] std::vector<RunningCap> caps(const std::string& engine) const;
  [[nodiscard]] Storage& storage() const { return storage_; }
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }
  [[nodiscard]] double retry_after_s() const { return retry_.after_s; }

 private:
  Storage& storage_;
  std::filesystem::path folder_;
  const Calendar& calendar_;
  RunningCaps limits_;
  RetryRule retry_;
  TripFile trips_;
  RunningLedger ledger_;
};

}  // namespace lapwright
