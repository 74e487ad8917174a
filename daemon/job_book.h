// One job as it stands in the journal: what was heard, written and judged, and what another try goes on from.
#pragma once

#include <map>
#include <string>
#include <utility>

#include "daemon/calendar.h"
#include "daemon/order.h"
#include "daemon/store/job_story.h"
#include "daemon/store/journal.h"
#include "drivers/safety/stop_reason.h"
#include "drivers/safety/track_end_watch.h"

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
  /// The order with what was measured already, and the decoder's memory as it may be relied on: somebody
  /// may have had the engine in hands since, so that only debts still hold.
  [[nodiscard]] TuneOrder order_from_here(const TuneOrder& order) const;
  [[nodiscard]] CvMemory memory_from_here() const;
  /// The faster of each step's last two passes: one of them may have been a test with trims or CV5 lowered.
  [[nodiscard]] ShownSpeeds shown_mm_s() const;

  void runs();  ///< before its first command to run
  void heard(const Heard& what);
  void settled(const CellResult& cell);  ///< a verdict that the journal holds already is not noted again
  void withdrawn(const CellResult& cell);
  /// What stood when it was broken off. The last of it may not have come into the journal any more.
  void recalled(const std::map<std::pair<int, Direction>, CellResult>& cells);
  void stopped(const Stop& why);
  /// What the decoder told before the job's first write: its maker and version, and what it held.
  void identified(const CvValues& identity) { note({{"kind", "identity"}, {"cvs", cvs_record(identity)}}); }
  void held_before(const CvValues& cvs) { note({{"kind", "before"}, {"cvs", cvs_record(cvs)}}); }
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

}  // namespace lapwright
