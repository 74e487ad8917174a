// What the owner's hooks are told of a shift: each engine that came to an end, each trip, and the end of the shift.
#pragma once

#include <filesystem>
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "daemon/calendar.h"
#include "daemon/hooks.h"
#include "daemon/shift.h"
#include "daemon/shift_observer.h"

namespace lapwright {

class HookObserver final : public ShiftObserver {
 public:
  /// The references outlive it. @param reports  folder
  HookObserver(Hooks& hooks, std::string railway, const std::filesystem::path& reports, const Calendar& calendar);

  void engine_begins(const Job& job, int number, int of) override;
  /// Not of an engine that is gone on with: what broke it off is no end of it.
  void engine_ends(const Job& job, const JobResult& result) override;
  /// Only of trips: everything else is told when the engine has come to its end.
  void stopped(const Stop& why) override;
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
  /// Not of those observers': the shift is through, or can't go on before a person has looked.
  void shift_ends(const ShiftResult& result, const QueueStory& queue);

 private:
  [[nodiscard]] nlohmann::json event(const char* name) const;

  Hooks& hooks_;
  std::string railway_;
  std::filesystem::path reports_;
  const Calendar& calendar_;
  std::string engine_;  ///< title of the one under work
};

}  // namespace lapwright
