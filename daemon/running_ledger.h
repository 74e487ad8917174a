// How long each engine ran on each day: the motors' hours, for the caps on them.
#pragma once

#include <map>
#include <string>

#include "daemon/store/storage.h"

namespace lapwright {

/// "running.json" in the state folder, 400 days of it; without a folder it is kept in memory only.
class RunningLedger {
 public:
  /// Reads what is there. @param storage  outlives it @throws FileLost  it is there and can't be read: the caps would
  /// not be known
  RunningLedger(Storage& storage, std::filesystem::path folder);

  /// @param date  "2026-11-27", local
  [[nodiscard]] double ran_s(const std::string& date, const std::string& engine) const;
  /// Adds and writes. @throws FileLost
  void add(const std::string& date, const std::string& engine, double running_s);

 private:
  [[nodiscard]] std::filesystem::path path() const { return folder_ / "running.json"; }
  Storage& storage_;
  std::filesystem::path folder_;
  std::map<std::string, std::map<std::string, double>> days_;
};

}  // namespace lapwright
