#include "daemon/shift.h"

#include "daemon/engine_file.h"
#include "daemon/report_files.h"
#include "daemon/store/durable_file.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration shift_looks_every = std::chrono::seconds(1);
constexpr int most_nights = 7;  // that one engine goes on in because the hours were over

/// Until engines may run, or the shift is to end.
asio::awaitable<void> allowed_hours(const AllowedHours& hours, ShiftMeans means) {
  if (hours.contains(means.calendar.now())) co_return;
  std::time_t start = hours.next_start(means.calendar.now());
  means.observer.waits("outside the allowed hours (" + hours.text() + "), until " + time_text(start));
  while (!means.button.pressed() && means.calendar.now() < start) {
    co_await means.clock.sleep_for(shift_looks_every);
    // Somebody may have set the clock meanwhile.
    if (means.calendar.now() >= start) start = hours.next_start(means.calendar.now());
  }
  means.observer.waits("");
}

std::string told_date(const Shift& shift, const ShiftMeans& means) {
  return shift.dated ? time_text(means.calendar.now()) : "";
}

/// Before every engine and at the end, so that it is true whatever becomes of this program meanwhile.
void tell_morning(const Shift& shift, const ShiftMeans& means, const ShiftResult& outcome, bool over) {
  Morning morning{shift.railway, {}, outcome.trouble, over, told_date(shift, means)};
  morning.turns.reserve(shift.jobs.size());
  for (const Job& job : shift.jobs) morning.turns.push_back({&job, nullptr, means.book.done(job)});
  for (std::size_t i = 0; i < outcome.results.size(); ++i) morning.turns[outcome.of[i]].result = &outcome.results[i];
  write_morning_page(means.memory.storage(), shift.reports, morning);
}

asio::awaitable<void> before_next_try(ShiftMeans means) {
  const double wait_s = means.memory.retry_after_s();
  const Instant until = means.clock.now() + seconds(wait_s);
  means.observer.waits("a rule of the configuration allows another try, in " +
                       std::to_string(static_cast<int>(wait_s)) + " s");
  while (!means.button.pressed() && means.clock.now() < until) co_await means.clock.sleep_for(shift_looks_every);
  means.observer.waits("");
}

/// On a shuttle nobody knows on which side of the gates an engine came to a stand: it would be run into the buffers.
std::string in_an_unknown_place(const Job& job, const JobBook& book) {
  if (job.order.track.shape == TrackShape::loop || book.story().heard.empty()) return {};
  return title(job.record) +
         " was broken off, and nobody knows where on the shuttle it stands: set it down before the first gate";
}

/// @returns earlier works on it. What is wrong with its document goes to the result: other engines can be tuned.
std::vector<EarlierTune> earlier_works(const EngineFile& file, JobResult& result) {
  try {
    return file.history();
  } catch (const FileLost& lost) {
    if (lost.error() != 0) throw;
    result.troubles.emplace_back(lost.what());
    return {};
  }
}

void add_work(const EngineFile& file, const EngineWork& work, JobResult& result) {
  try {
    file.add(work);
  } catch (const FileLost& lost) {
    if (lost.error() != 0) throw;
    result.troubles.emplace_back(lost.what());
  }
}

/// One job, over and over as far as hours and rules allow. @returns its last result; empty where the engine could not
/// be taken, with the reason in `outcome`, or where the shift is to end
asio::awaitable<std::optional<JobResult>> see_through(const Shift& shift, const Job& job, ShiftMeans means,
                                                      ShiftResult& outcome) {
  JobBook book = means.book.job_begins(job);
  for (int night = 1;;) {
    // Before the wait for the hours: whoever can do something about it should know at once.
    outcome.trouble = means.set_down ? "" : in_an_unknown_place(job, book);
    means.set_down = false;
    outcome.rig_lost = !outcome.trouble.empty();
    if (outcome.rig_lost) co_return std::nullopt;
    co_await allowed_hours(shift.hours, means);
    if (means.button.pressed()) co_return std::nullopt;
    const std::optional<FileLost> storage =
        trouble_of_storage(means.memory.storage(), {shift.reports, means.memory.folder()});
    if (storage) throw FileLost(*storage);  // nothing is energised that could not be reported
    const int number = static_cast<int>(outcome.next) + 1;
    const int engines = static_cast<int>(shift.jobs.size());
    means.observer.engine_begins(job, number, engines);
    std::unique_ptr<Placement> engine;
    try {
      engine = co_await means.stand.put_on_track(job.record);
    } catch (const RigFault& fault) {
      outcome.trouble = fault.what();
      outcome.rig_lost = true;
      co_return std::nullopt;
    }
    JobKeeper keeper(means.memory, means.calendar, shift.hours, book);
    JobResult result = co_await run_job(job, *engine, shift.limits, means.clock, means.button, means.observer, keeper);
    co_await engine->leave();
    means.book.job_breaks_off(book);
    const bool slept = result.stop && result.stop->reason == StopReason::hours_over && night < most_nights;
    const bool over = means.button.pressed() || !(slept || keeper.again());
    const EngineFile file(means.memory.storage(), means.memory.folder(), job.record);
    const std::vector<EarlierTune> history = earlier_works(file, result);
    if (over && is_through(result)) {
      add_work(file, work_of(job, result, book.story().id, time_text(means.calendar.now())), result);
    }
    // Also of a fault: nothing measured is lost.
    write_reports(means.memory.storage(), shift.reports, shift.railway, job, result, history, told_date(shift, means));
    if (result.fault) std::rethrow_exception(result.fault);
    means.observer.engine_ends(job, result);
    if (over) co_return result;
    if (slept) ++night;
    if (keeper.again()) {
      co_await before_next_try(means);
      co_await means.stand.clear();
    }
  }
}

}  // namespace

asio::awaitable<ShiftResult> run_shift(const Shift& shift, std::size_t first, ShiftMeans means) {
  ShiftResult outcome;
  outcome.next = first;
  while (outcome.next < shift.jobs.size()) {
    const Job& job = shift.jobs[outcome.next];
    if (const std::optional<bool> done = means.book.done(job)) {
      outcome.needs_person = outcome.needs_person || *done;
      ++outcome.next;
      continue;
    }
    tell_morning(shift, means, outcome, false);
    const std::optional<JobResult> result = co_await see_through(shift, job, means, outcome);
    if (!result) break;
    outcome.rig_lost = rig_is_lost(*result);
    outcome.needs_person = outcome.needs_person || needs_person(*result);
    outcome.results.push_back(*result);
    outcome.of.push_back(outcome.next);
    if (!is_through(*result)) break;
    means.memory.clear();
    means.book.job_ends(job, *result);
    ++outcome.next;
  }
  if (outcome.next < shift.jobs.size()) outcome.needs_person = true;
  tell_morning(shift, means, outcome, true);
  if (outcome.next == shift.jobs.size()) means.book.end();
  co_await means.book.journal().flush();
  co_return outcome;
}

}  // namespace lapwright
