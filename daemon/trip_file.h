// The last trip, kept where a restart finds it: until it is cleared nothing runs.
#pragma once

#include <optional>
#include <string>

#include "daemon/store/storage.h"
#include "drivers/safety/stop_reason.h"

namespace lapwright {

struct Trip {
  std::string code;      ///< of a StopReason
  std::string sentence;  ///< for people, with the remedy
  std::string engine;    ///< its title
  std::string at;        ///< local time
  Evidence evidence = {};
  int tries = 0;       ///< that the configuration's rule has allowed for this engine so far
  bool again = false;  ///< it allows the next one, too: nobody has to clear it
};

/// "trip.json" in the state folder; without a folder it is kept in memory only.
class TripFile {
 public:
  /// @param storage  outlives it
  TripFile(Storage& storage, std::filesystem::path folder) : storage_(storage), folder_(std::move(folder)) {}

  /// A file that can't be read or understood counts as a trip: what stopped is not known.
  [[nodiscard]] std::optional<Trip> read() const;
  void write(const Trip& trip);  ///< @throws FileLost
  void clear();                  ///< @throws FileLost

 private:
  [[nodiscard]] std::filesystem::path path() const { return folder_ / "trip.json"; }
  Storage& storage_;
  std::filesystem::path folder_;
  std::optional<Trip> kept_;  ///< without a folder, or where writing failed
};

/// One sentence: when, which engine and why.
[[nodiscard]] std::string trip_sentence(const Trip& trip);

}  // namespace lapwright
