#include "daemon/rehearse.h"

#include <spdlog/fmt/fmt.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <exception>
#include <optional>

#include "daemon/exit_codes.h"
#include "daemon/progress.h"
#include "daemon/shift.h"
#include "daemon/simulated_stand.h"
#include "daemon/wording.h"
#include "drivers/virtual_clock.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double spare_s = 3600;  // beyond the budgets: a run that is longer never ends

/// Goes with the virtual clock, from the same day for all rehearsals: the same seed is to give the same bytes.
class RehearsedCalendar final : public Calendar {
 public:
  explicit RehearsedCalendar(const Clock& clock) : clock_(clock) {}
  [[nodiscard]] std::time_t now() const override {
    return static_cast<std::time_t>(in_seconds(clock_.now().time_since_epoch()));
  }

 private:
  const Clock& clock_;
};

std::string closing_table(const ShiftResult& shift) {
  std::string text = fmt::format("\n{:<24}{:<20}{:>8}{:>14}{:>7}{:>7}\n", "engine", "outcome", "steps", "track time",
                                 "passes", "writes");
  text += std::string(80, '-') + '\n';
  for (const ShiftTurn& turn : shift.turns) {
    const JobResult& result = turn.result;
    const VerdictCounts counts = count(by_step(result.tune.cells, turn.job.sheet));
    text += fmt::format("{:<24}{:<20}{:>8}{:>14}{:>7}{:>7}\n", turn.entry.engine, outcome_word(result, counts),
                        fmt::format("{}/{}", counts.proved, counts.steps), duration_text(result.tune.track_s),
                        result.tune.passes, result.tune.writes);
  }
  return text;
}

}  // namespace

int rehearse(const Configuration& configuration, const std::vector<Job>& jobs, TerminalStyle style,
             const std::function<void(std::string_view)>& write) {
  VirtualClock clock;  // before the context, whose coroutines sleep on it
  SimulatedStand stand(configuration.rig, clock);
  // A rehearsal takes no hours of the day and remembers nothing.
  const Shift shift{configuration.railway,
                    planner_among(jobs),
                    configuration.limits,
                    AllowedHours(),
                    configuration.reports,
                    configuration.leave,
                    false};
  const RehearsedCalendar calendar(clock);
  RealStorage storage;
  ShiftMemory memory(storage, {}, calendar, configuration.caps, configuration.retry);
  InlineWorker worker;
  Journal journal(storage, worker, {}, calendar);
  ShiftBook book(journal, calendar);
  book.begin(jobs);
  StopButton button;
  Progress progress(style, write);
  std::optional<ShiftResult> outcome;
  std::exception_ptr failure;
  asio::io_context context;
  const auto when_ended = [&](const std::exception_ptr& thrown, ShiftResult result) {
    failure = thrown;
    if (!thrown) outcome = std::move(result);
  };
  const ShiftMeans means{stand, clock, calendar, memory, book, button, progress};
  asio::co_spawn(context, run_shift(shift, means), when_ended);
  const double limit_s = static_cast<double>(jobs.size()) * (configuration.engine_budget_s + spare_s);
  const VirtualClock::Outcome end = clock.run(context, seconds(limit_s));
  if (failure) std::rethrow_exception(failure);
  if (end == VirtualClock::Outcome::stalled) {
    write("\nthe rehearsal stalled: somebody waits for what can't happen any more. This is a fault of the program\n");
    return exit_internal;
  }
  if (end == VirtualClock::Outcome::time_is_up || !outcome) {
    write(fmt::format("\nthe rehearsal did not end within {} of virtual time. This is a fault of the program\n",
                      duration_text(limit_s)));
    return exit_internal;
  }
  write(closing_table(*outcome));
  write(fmt::format("reports are in {}\n", configuration.reports.string()));
  return outcome->needs_person ? exit_needs_person : exit_ok;
}

}  // namespace lapwright
