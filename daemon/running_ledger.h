// How long each engine ran on each day, and all of them in a shift: the motors' hours, for the caps on them.
#pragma once

#include <cstdint>
#include <ctime>
#include <map>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/store/storage.h"

namespace lapwright {

/// "running.json" in the state folder, 400 days of it; without a folder it is kept in memory only.
/// Of an engine that runs on end.
struct Tiredness {
  double tired_s = 0;
  std::time_t at = 0;
};

class RunningLedger {
 public:
  /// Reads what is there. @param storage  outlives it @throws FileLost  it is there and can't be read: the caps would
  /// not be known
  RunningLedger(Storage& storage, std::filesystem::path folder);

  /// @param date  "2026-11-27", local
  [[nodiscard]] double ran_s(const std::string& date, const std::string& engine) const;
  /// Of all engines, in the shift that was taken up.
  [[nodiscard]] double shift_ran_s() const { return shift_ran_s_; }
  /// What runs from now on belongs to that shift. @param shift  the same one goes on where it was
  void take_up_shift(std::int64_t shift);
  [[nodiscard]] Tiredness tiredness(const std::string& engine) const;
  /// To be written with what is added next.
  void tires(const std::string& engine, Tiredness tiredness) { tired_[engine] = tiredness; }
  /// Adds and writes. @throws FileLost
  void add(const std::string& date, const std::string& engine, double running_s);

 private:
  void read_tired(const nlohmann::ordered_json& tired);
  void read_shift(const nlohmann::ordered_json& shift);
  [[nodiscard]] std::filesystem::path path() const { return folder_ / "running.json"; }
  Storage& storage_;
  std::filesystem::path folder_;
  std::map<std::string, std::map<std::string, double>> days_;
  std::map<std::string, Tiredness> tired_;
  std::int64_t shift_ = 0;
  double shift_ran_s_ = 0;
};

}  // namespace lapwright
