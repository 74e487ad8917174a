// The shift as it stands in the journal: what is done, what was broken off and can go on, and one book for each job.
#pragma once

#include <string>
#include <vector>

#include "daemon/job_book.h"
#include "daemon/job_result.h"

namespace lapwright {

class ShiftBook {
 public:
  /// Both outlive it. @throws FileLost
  ShiftBook(Journal& journal, const Calendar& calendar);

  /// Takes up the shift that was broken off: jobs of the list that it does not know join it, and what is not in the
  /// list any more leaves it. Or begins a new one, with those jobs of the list that the last shift has not seen
  /// through.
  void take_up(const std::vector<Job>& list);
  /// A new shift with the whole list. What was open is forgotten, but for what decoders are owed.
  void begin(const std::vector<Job>& list);
  void end();
  [[nodiscard]] bool ended() const { return story_.ended; }

  [[nodiscard]] std::int64_t shift() const { return story_.shift; }
  [[nodiscard]] const QueueStory& queue() const { return story_.queue; }
  /// Whose turn it is; empty: nobody's.
  [[nodiscard]] std::optional<QueueEntry> next() const;
  [[nodiscard]] bool waits(int number) const;
  /// Joins the end of the queue, and begins a shift where none is open. @returns its number
  int add(const Job& job, bool listed);
  /// @param place  from 0, never ahead of a job that is under way. False: no such entry waits
  bool move(int number, std::size_t place);
  /// False: no such entry waits.
  bool cancel(int number, const std::string& why);
  void pause(bool on);
  /// @param engine  empty: the loop is free, or nobody knows
  void stands_on_track(const std::string& engine);
  /// It is under way between the loop and its staging track from now on.
  void moves(const std::string& engine);

  [[nodiscard]] bool was_broken_off(const Job& job) const;
  /// Goes on with it where it was broken off, or begins it.
  [[nodiscard]] JobBook job_begins(const QueueEntry& entry, const Job& job);
  /// It is through, whatever its end is. @param left_out  by a rule, after a trip
  void job_ends(const QueueEntry& entry, const Job& job, const JobResult& result, bool left_out = false);
  /// No other work on it in this shift, and nobody knows where it stands.
  void leave_out(const std::string& engine);
  /// It can't be begun: its files have become wrong.
  void job_fails(const QueueEntry& entry, const std::string& why);
  /// It will go on where it is.
  void job_breaks_off(const JobBook& book) { story_.open = book.story(); }
  [[nodiscard]] Journal& journal() { return journal_; }

 private:
  void note(const Record& record);
  void begin_file();
  [[nodiscard]] bool knows(const Job& job) const;

  Journal& journal_;
  const Calendar& calendar_;
  ShiftStory story_;
};

}  // namespace lapwright
