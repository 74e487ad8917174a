// What people ask of the queue: who waits, one more, another order, not this one, a pause, and "it stands on the loop".
#pragma once

#include <nlohmann/json.hpp>
#include <optional>

#include "daemon/configuration.h"
#include "daemon/hand_over.h"
#include "daemon/shift_book.h"
#include "daemon/stop_button.h"

namespace lapwright {

/// Answers {"ask":"queue"} with the queue, and with "do" added:
///   "add"     "engines": names or files of records, "work", "sheet": a name or a file; empty: the engine's own
///   "move"    "entry": number, "place": from 1
///   "cancel"  "entry"; the one under way is stopped in good order
///   "pause"   "now": true stops the one under way in good order, too; it will go on where it was
///   "resume"
/// and {"ask":"ready","engine":title or ""}. What it changes stands in the journal, to be flushed before the answer
/// goes out.
class QueueDesk {
 public:
  /// All outlive it.
  QueueDesk(const Configuration& configuration, ShiftBook& book, HandOver& hand_over, StopButton& button)
      : configuration_(configuration), book_(book), hand_over_(hand_over), button_(button) {}

  /// {"queue":{…},"done":bool,"text":"…"}
  [[nodiscard]] nlohmann::json answer(const nlohmann::json& request);

 private:
  struct Said {
    bool done = true;
    std::string text;
  };
  Said obey(const std::string& what, const nlohmann::json& request);
  Said add(const nlohmann::json& request);
  Said move(const nlohmann::json& request);
  Said cancel(const nlohmann::json& request);
  Said pause(bool now);
  Said resume();
  [[nodiscard]] nlohmann::json told() const;
  /// Of shift and fleet. @throws settings::Errors
  [[nodiscard]] std::optional<ShiftEntry> named(const std::string& engine) const;
  /// @throws settings::Errors  with what to do
  [[nodiscard]] Job find_job(const std::string& engine, const std::string& sheet, Work work) const;

  const Configuration& configuration_;
  ShiftBook& book_;
  HandOver& hand_over_;
  StopButton& button_;
};

}  // namespace lapwright
