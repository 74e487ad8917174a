// The shift as it stands in the journal: what is done, what was broken off and can go on, and one book for each job.
#pragma once

#include <string>
#include <vector>

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/store/job_story.h"
#include "daemon/store/journal.h"

namespace lapwright {

/// Of all that fixes what a job's measurements mean: engine, track, trap, wanted speeds, tolerances.
[[nodiscard]] std::string mark_of(const Job& job);

/// What happens in one job goes into the journal by it; it knows what another try goes on from.
class JobBook final : public CvNotes {
 public:
  JobBook(Journal& journal, const Calendar& calendar, JobStory story)
      : journal_(journal), calendar_(calendar), story_(std::move(story)) {}

  [[nodiscard]] Journal& journal() { return journal_; }
  [[nodiscard]] const JobStory& story() const { return story_; }
  /// The order with what was measured already (on a loop), and the decoder's memory as it may be relied on: somebody
  /// may have had the engine in hands since, so that only debts still hold.
  [[nodiscard]] TuneOrder order_from_here(const TuneOrder& order) const;
  [[nodiscard]] CvMemory memory_from_here() const;

  void heard(const Heard& what);
  void settled(const CellResult& cell);  ///< a verdict that the journal holds already is not noted again
  void withdrawn(const CellResult& cell);
  /// What stood when it was broken off. The last of it may not have come into the journal any more.
  void recalled(const std::map<std::pair<int, Direction>, CellResult>& cells);
  void stopped(const Stop& why);
  void found(int cv, std::uint8_t value) override;
  void owed(int cv, std::uint8_t original) override;
  void sending(int cv, std::uint8_t value) override;
  void sending_bit(int cv, int bit, bool value) override;
  void sent(int cv, std::uint8_t value, CvWriteReply reply) override;
  void paid(int cv) override;

 private:
  void note(const Record& record);

  Journal& journal_;
  const Calendar& calendar_;
  JobStory story_;
};

class ShiftBook {
 public:
  /// Both outlive it. @throws FileLost
  ShiftBook(Journal& journal, const Calendar& calendar);

  /// The latest shift was broken off, and some of these jobs are its own.
  [[nodiscard]] bool goes_on(const std::vector<Job>& jobs) const;
  /// A new one: what was open is forgotten, but for what decoders are owed.
  void begin(const std::vector<Job>& jobs);
  void end();
  /// Whether it needs a person, of a job that is through.
  [[nodiscard]] std::optional<bool> done(const Job& job) const;
  [[nodiscard]] bool was_broken_off(const Job& job) const;
  /// Goes on with it where it was broken off, or begins it.
  [[nodiscard]] JobBook job_begins(const Job& job);
  /// It is through, whatever its end is.
  void job_ends(const Job& job, const JobResult& result);
  /// It will go on where it is.
  void job_breaks_off(const JobBook& book) { story_.open = book.story(); }
  [[nodiscard]] Journal& journal() { return journal_; }

 private:
  void note(const Record& record);

  Journal& journal_;
  const Calendar& calendar_;
  ShiftStory story_;
};

}  // namespace lapwright
