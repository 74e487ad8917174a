// What the journal tells of one job, for another one to go on from.
#pragma once

#include <ctime>
#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "daemon/store/queue_story.h"
#include "tuning/cv_memory.h"
#include "tuning/transcript.h"

namespace lapwright {

struct JobStory {
  std::string engine;  ///< its title
  std::string sheet;   ///< the name
  std::string id;      ///< of this work, as no other has it
  std::string mark;    ///< of the order: another mark means that its measurements are of something else
  CvMemory cvs;
  CvValues identity;  ///< CV7 and CV8, where the decoder has told them
  CvValues before;    ///< what it held before this job's first write, as far as it was told
  std::vector<Heard> heard;
  std::map<std::pair<int, Direction>, std::string> told;  ///< verdicts that stand in the journal, by cell
  std::time_t last_at = 0;                                ///< of the latest record
  bool ran = false;                                       ///< it was commanded to run

  /// One more record of this job. @param at  when it was noted
  void follow(const Record& record, std::time_t at);
};

/// What the journal's records say of the shift.
struct ShiftStory {
  QueueStory queue;
  std::optional<JobStory> open;           ///< the job that came to no end
  std::map<std::string, CvValues> debts;  ///< by engine: what its decoder was lent for and has not got back
  bool ended = true;                      ///< the shift
  std::int64_t shift = 0;                 ///< tells shifts apart
  int unreadable = 0;                     ///< whole lines that say nothing this program understands

  /// One more record.
  void follow(const Record& record);

 private:
  void follow_known(const Record& record, const std::string& kind);
  void keep_debts();
};

/// "CV3" and "CV4" to values, both ways. @throws Record::exception, std::invalid_argument
[[nodiscard]] Record cvs_record(const CvValues& cvs);
[[nodiscard]] CvValues read_cvs(const Record& record);

}  // namespace lapwright
