#include "daemon/shift.h"

#include <algorithm>

#include "daemon/engine_file.h"
#include "daemon/engine_turn.h"
#include "daemon/loop_access.h"
#include "daemon/report_files.h"
#include "daemon/store/durable_file.h"
#include "drivers/settings/errors.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration shift_looks_every = std::chrono::seconds(1);
constexpr int most_nights = 7;  // that one engine goes on in because the hours were over

/// Until engines may run, or its turn is over.
asio::awaitable<void> allowed_hours(const AllowedHours& hours, const QueueEntry& entry, ShiftMeans means) {
  if (hours.contains(means.calendar.now())) co_return;
  const std::time_t start = hours.next_start(means.calendar.now());
  means.observer.waits("outside the allowed hours (" + hours.text() + "), until " + time_text(start));
  // Somebody may set the clock meanwhile, on or back.
  while (its_turn(entry, means) && !hours.contains(means.calendar.now())) {
    co_await means.clock.sleep_for(shift_looks_every);
  }
  means.observer.waits("");
}

std::string told_date(const Shift& shift, const ShiftMeans& means) {
  return shift.dated ? time_text(means.calendar.now()) : "";
}

/// Before every engine and at the end, so that it is true whatever becomes of this program meanwhile.
void tell_morning(const Shift& shift, const ShiftMeans& means, const ShiftResult& outcome, bool over) {
  Morning morning{shift.railway, {}, outcome.trouble, over, told_date(shift, means)};
  const auto tell = [&](const QueueEntry& entry, std::optional<bool> earlier) {
    MorningJob turn{entry.engine, entry.stem, entry.sheet, nullptr, nullptr, earlier};
    for (const ShiftTurn& each : outcome.turns) {
      if (each.entry.number != entry.number) continue;
      turn.job = &each.job;
      turn.result = &each.result;
    }
    morning.turns.push_back(std::move(turn));
  };
  const QueueStory& queue = means.book.queue();
  for (const EndedEntry& each : queue.ended) tell(each.entry, each.needs_person);
  for (const QueueEntry& entry : queue.waiting) tell(entry, std::nullopt);
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

/// A rule goes on after that stop. @returns what the rig does not forget; empty: it is free
asio::awaitable<std::string> still_there(TestStand& stand, std::optional<Stop> stop) {
  const StopReason only = stop ? stop->reason : StopReason::rig_lost;
  std::string trouble;
  try {
    co_await stand.clear(only);
  } catch (const RigFault& fault) {
    trouble = fault.what();
  }
  co_return trouble;
}

/// On a shuttle nobody knows on which side of the gates an engine came to a stand: it would be run into the buffers.
std::string in_an_unknown_place(const Job& job, const JobBook& book) {
  if (job.order.track.shape == TrackShape::loop || !book.story().ran) return {};
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

/// A document that can't be understood is told with the result, by `earlier_works`.
KnownEngine known_engine(const EngineFile& file) {
  try {
    return file.known();
  } catch (const FileLost& lost) {
    if (lost.error() != 0) throw;
    return {};
  }
}

/// A job that came to no end of its own has written, too: an undo is to be possible.
void keep_before(const EngineFile& file, JobResult& result) {
  if (result.before.empty()) return;
  try {
    file.keep_before(result.identity, result.before);
  } catch (const FileLost& lost) {
    if (lost.error() != 0) throw;
    result.troubles.emplace_back(lost.what());
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
/// be taken, with the reason in `outcome`, or where its turn is over
asio::awaitable<std::optional<JobResult>> see_through(const Shift& shift, const QueueEntry& entry, const Job& job,
                                                      ShiftMeans means, ShiftResult& outcome) {
  JobBook book = means.book.job_begins(entry, job);
  for (int night = 1;;) {
    // Before the wait for the hours: whoever can do something about it should know at once.
    outcome.trouble = means.set_down ? "" : in_an_unknown_place(job, book);
    means.set_down = false;
    outcome.rig_lost = !outcome.trouble.empty();
    if (outcome.rig_lost) co_return std::nullopt;
    co_await allowed_hours(shift.hours, entry, means);
    if (!its_turn(entry, means)) co_return std::nullopt;
    const std::optional<FileLost> storage =
        trouble_of_storage(means.memory.storage(), {shift.reports, means.memory.folder()});
    if (storage) throw FileLost(*storage);  // nothing is energised that could not be reported
    const QueueStory& queue = means.book.queue();
    const auto engines = static_cast<int>(queue.ended.size() + queue.waiting.size());
    means.observer.engine_begins(job, static_cast<int>(queue.ended.size()) + 1, engines);
    const EngineFile file(means.memory.storage(), means.memory.folder(), job.record);
    const KnownEngine known = known_engine(file);
    const std::function<bool()> goes_on = [&entry, &means] { return its_turn(entry, means); };
    const TurnMeans turn{means.stand,  means.clock, means.calendar, means.memory, means.button, means.observer,
                         shift.limits, shift.hours, book,           known,        goes_on};
    std::optional<TurnResult> over_with;
    try {
      std::optional<JobResult> kept_away;
      if (job.place) kept_away = co_await comes_out(shift, entry, job, turn, means, outcome);
      const bool on_its_way = job.place && means.book.queue().on_track != entry.engine;
      if (outcome.rig_lost || (on_its_way && !kept_away)) co_return std::nullopt;
      if (!kept_away) over_with = co_await take_turn(job, turn);
      if (kept_away) over_with = TurnResult{std::move(*kept_away), false};
    } catch (const RigFault& fault) {
      outcome.trouble = fault.what();
      outcome.rig_lost = true;
      co_return std::nullopt;
    }
    if (!over_with) co_return std::nullopt;
    JobResult result = std::move(over_with->job);
    means.book.job_breaks_off(book);
    const bool slept = result.stop && result.stop->reason == StopReason::hours_over && night < most_nights;
    const bool over = means.button.pressed() || !(slept || over_with->again);
    const std::vector<EarlierTune> history = earlier_works(file, result);
    if (over && is_through(result)) {
      add_work(file, work_of(job, result, book.story().id, time_text(means.calendar.now())), result);
    } else if (over) {
      keep_before(file, result);
    }
    // Also of a fault: nothing measured is lost.
    write_reports(means.memory.storage(), shift.reports, shift.railway, job, result, history, told_date(shift, means));
    if (result.fault) std::rethrow_exception(result.fault);
    means.observer.engine_ends(job, result);
    if (over) co_return result;
    if (slept) ++night;
    if (!over_with->again) continue;
    co_await before_next_try(means);
    if (means.button.pressed()) co_return std::nullopt;
    outcome.trouble = co_await still_there(means.stand, result.stop);
    outcome.rig_lost = !outcome.trouble.empty();
    if (outcome.rig_lost) co_return std::nullopt;
  }
}

/// A rule lets the shift go on without an engine that has tripped. False: also where the rig does not forget the trip.
asio::awaitable<bool> is_left_out(const Shift& shift, const JobResult& result, ShiftMeans means, ShiftResult& outcome) {
  const bool by_rule = rig_is_lost(result) && !result.fault && !means.button.pressed() &&
                       shift.leave.causes.contains(std::string(code(result.stop->reason))) &&
                       means.book.queue().left_out < shift.leave.engines;
  if (!by_rule) co_return false;
  outcome.trouble = co_await still_there(means.stand, result.stop);
  co_return outcome.trouble.empty() && !means.button.pressed();
}

}  // namespace

Planner planner_among(std::vector<Job> jobs) {
  return [jobs = std::move(jobs)](const QueueEntry& entry) {
    const auto same = [&](const Job& job) { return mark_of(job) == entry.mark; };
    const auto found = std::find_if(jobs.begin(), jobs.end(), same);
    if (found == jobs.end()) throw settings::Errors({entry.engine + ": no such job was planned"});
    return *found;
  };
}

asio::awaitable<ShiftResult> run_shift(const Shift& shift, ShiftMeans means) {
  ShiftResult outcome;
  for (const EndedEntry& each : means.book.queue().ended) {
    outcome.needs_person = outcome.needs_person || each.needs_person;
  }
  if (means.set_down) all_are_put_back(shift, means);
  while (!means.button.pressed() && !means.book.queue().paused) {
    const std::optional<QueueEntry> entry = means.book.next();
    if (!entry) break;
    means.memory.take_up_shift(means.book.shift());
    std::optional<Job> job;
    try {
      job = shift.plan(*entry);
    } catch (const settings::Errors& errors) {
      means.book.job_fails(*entry, errors.what());
      means.observer.not_begun(entry->engine, errors.what());
      outcome.needs_person = true;
      continue;
    }
    tell_morning(shift, means, outcome, false);
    outcome.trouble = somebody_is_on_the_way(means);
    outcome.rig_lost = !outcome.trouble.empty();
    if (outcome.rig_lost) break;
    const bool by_hand = !job->place;
    if (by_hand) {
      const bool there = co_await comes_by_hand(*entry, *job, means);
      if (!there) continue;
    }
    const std::optional<JobResult> result = co_await see_through(shift, *entry, *job, means, outcome);
    means.set_down = false;  // for that one
    if (!result && outcome.rig_lost) break;
    if (!result) continue;
    const bool cancelled = !means.book.waits(entry->number);
    outcome.rig_lost = rig_is_lost(*result);
    outcome.needs_person = outcome.needs_person || (cancelled ? !result->owed.empty() : needs_person(*result));
    outcome.turns.push_back({*entry, *job, *result});
    const bool left_out = co_await is_left_out(shift, *result, means, outcome);
    if (!is_through(*result) && !left_out && !(cancelled && !outcome.rig_lost)) break;
    means.memory.clear();
    means.book.job_ends(*entry, *job, *result, left_out);
    if (left_out) {
      means.book.leave_out(entry->engine);
      outcome.rig_lost = false;
      continue;
    }
    co_await clear_the_loop(shift, means, outcome);
    if (outcome.rig_lost) break;
  }
  if (means.book.next()) outcome.needs_person = true;
  tell_morning(shift, means, outcome, true);
  if (!means.book.next() && !means.book.ended()) means.book.end();
  co_await means.book.journal().flush();
  co_return outcome;
}

}  // namespace lapwright
