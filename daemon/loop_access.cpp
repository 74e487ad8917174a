#include "daemon/loop_access.h"

#include <algorithm>
#include <functional>

#include "daemon/engine_file.h"
#include "daemon/staging_turn.h"
#include "drivers/settings/errors.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration access_looks_every = std::chrono::seconds(1);

/// Until a person says that it is done, or nobody waits for it any more. @param engine  that is to stand on the loop
asio::awaitable<bool> person_is_ready(const QueueEntry& entry, std::string what, ShiftMeans means) {
  means.hand_over->await_engine(entry.engine);
  means.observer.waits(what);
  while (!means.hand_over->here() && its_turn(entry, means)) co_await means.clock.sleep_for(access_looks_every);
  const bool came = means.hand_over->here();
  means.hand_over->await_nobody();
  means.observer.waits("");
  co_return came;
}

/// The job of whoever stands on the loop, to know its way home.
std::optional<Job> job_on_the_loop(const Shift& shift, const QueueStory& queue) {
  std::vector<QueueEntry> all = queue.waiting;
  for (const EndedEntry& each : queue.ended) all.push_back(each.entry);
  for (const QueueEntry& entry : all) {
    if (entry.engine != queue.on_track) continue;
    try {
      Job job = shift.plan(entry);
      if (job.place) return job;
    } catch (const settings::Errors&) {  // its files have become wrong: a person has to put it away
    }
  }
  return std::nullopt;
}

/// Noted before it moves, and taken back where it can't be taken.
asio::awaitable<StagingEnd> on_the_way(std::string engine, const Job& job, StagingLeg leg, TurnMeans with,
                                       ShiftMeans means) {
  const std::string before = means.book.queue().on_track;
  means.book.moves(engine);
  try {
    StagingEnd end = co_await run_staging(job, leg, with);
    co_return end;
  } catch (const RigFault&) {
    means.book.stands_on_track(before);
    throw;
  }
}

void end_by(ShiftResult& outcome, std::string trouble) {
  outcome.trouble = std::move(trouble);
  outcome.rig_lost = true;
  outcome.needs_person = true;
}

}  // namespace

bool its_turn(const QueueEntry& entry, const ShiftMeans& means) {
  const std::optional<QueueEntry> next = means.book.next();
  return next && next->number == entry.number && !means.book.queue().paused && !means.button.pressed();
}

void all_are_put_back(const Shift& shift, ShiftMeans means) {
  const QueueStory& queue = means.book.queue();
  if (queue.moving || job_on_the_loop(shift, queue)) means.book.stands_on_track("");
}

std::string somebody_is_on_the_way(const ShiftMeans& means) {
  const QueueStory& queue = means.book.queue();
  if (!queue.moving) return {};
  return queue.on_track +
         " was on its way between the loop and its staging track, and nobody knows where it stands: put it back onto "
         "its "
         "staging track";
}

asio::awaitable<bool> comes_by_hand(const QueueEntry& entry, const Job& job, ShiftMeans means) {
  if (means.hand_over == nullptr) co_return true;
  const bool shuttle = job.order.track.shape == TrackShape::shuttle;
  const std::string there = means.book.queue().on_track;
  // After a work it stands anywhere on a shuttle. Where that was broken off, the job asks for it itself.
  const bool known_place = !shuttle || means.set_down || means.book.was_broken_off(job);
  const bool here = there.empty() || (there == entry.engine && known_place);  // the first of all stands there already
  if (!here) {
    const std::string what = "waiting for " + entry.engine + (shuttle ? " before the first gate" : " on the loop") +
                             ": the track is dead; put it there, then tell: lapwright ready";
    const bool came = co_await person_is_ready(entry, what, means);
    if (!came) co_return false;
  }
  means.book.stands_on_track(entry.engine);
  co_return true;
}

asio::awaitable<std::optional<JobResult>> comes_out(const Shift& shift, const QueueEntry& entry, const Job& job,
                                                    TurnMeans with, ShiftMeans means, ShiftResult& outcome) {
  if (means.book.queue().on_track == entry.engine && !means.book.queue().moving) co_return std::nullopt;
  co_await clear_the_loop(shift, means, outcome);
  if (outcome.rig_lost) co_return std::nullopt;
  const std::string other = means.book.queue().on_track;
  if (!other.empty() && means.hand_over == nullptr) {
    end_by(outcome, other + " stands on the loop, and " + entry.engine + " can't come out before it is put away");
    co_return std::nullopt;
  }
  if (!other.empty()) {
    const std::string what = "waiting for a free loop for " + entry.engine + ": put away " + other +
                             ", which stands there on the dead track, then tell: lapwright ready";
    const bool free = co_await person_is_ready(entry, what, means);
    if (!free) co_return std::nullopt;
  }
  const StagingEnd end = co_await on_the_way(entry.engine, job, StagingLeg::out, with, means);
  const bool there = end.run.arrival == Arrival::there && !end.stop && !end.fault;
  const bool at_home = end.run.arrival == Arrival::never_left && !end.stop;
  if (there) means.book.stands_on_track(entry.engine);
  if (at_home) means.book.stands_on_track("");
  if (there && !end.broken_off) co_return std::nullopt;
  co_return not_come_out(job, end);
}

asio::awaitable<void> clear_the_loop(const Shift& shift, ShiftMeans means, ShiftResult& outcome) {
  const QueueStory& queue = means.book.queue();
  if (queue.on_track.empty() || queue.moving || means.button.pressed()) co_return;
  const std::optional<QueueEntry> next = means.book.next();
  if (next && next->engine == queue.on_track) co_return;  // it has another turn
  const std::optional<Job> job = job_on_the_loop(shift, queue);
  const std::time_t now = means.calendar.now();
  if (!job || !shift.hours.contains(now) || !shift.hours.contains(now + static_cast<std::time_t>(way_home_s)))
    co_return;
  JobStory way_home;
  way_home.engine = title(job->record);
  JobBook book(means.book.journal(), means.calendar, way_home);
  const KnownEngine nothing;
  const std::function<bool()> goes_on = [&means] { return !means.button.pressed(); };
  const TurnMeans with{means.stand,  means.clock, means.calendar, means.memory, means.button, means.observer,
                       shift.limits, shift.hours, book,           nothing,      goes_on};
  const std::string engine = queue.on_track;
  std::string trouble;
  try {
    const StagingEnd end = co_await on_the_way(engine, *job, StagingLeg::home, with, means);
    if (end.fault) std::rethrow_exception(end.fault);
    if (end.run.arrival != Arrival::there) trouble = end.run.what;
    if (end.stop) trouble = end.stop->sentence;
    if (end.broken_off && trouble.empty()) trouble = "it was broken off on its way home";
  } catch (const RigFault& fault) {
    trouble = fault.what();
  }
  if (trouble.empty()) means.book.stands_on_track("");
  if (trouble.starts_with(engine + ": ")) trouble.erase(0, engine.size() + 2);
  if (!trouble.empty()) end_by(outcome, engine + " did not get home: " + trouble);
}

}  // namespace lapwright
