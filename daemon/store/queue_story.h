// The shift's queue as the journal tells it: who waits, who is through, whether it is paused, who stands on the track.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "daemon/store/journal_line.h"
#include "daemon/work.h"

namespace lapwright {

/// One engine's turn.
struct QueueEntry {
  int number = 0;      ///< by which people name it; counts up
  std::string engine;  ///< its title
  std::string stem;    ///< of its files
  std::string sheet;   ///< the name
  std::filesystem::path record_file;
  std::filesystem::path sheet_file;
  Work work = Work::tune;
  std::string mark;    ///< of its order, when it was queued
  bool listed = true;  ///< by the configuration; false: a person has added it
};

struct EndedEntry {
  QueueEntry entry;
  std::string outcome;  ///< in a few words
  bool needs_person = false;
};

struct QueueStory {
  std::vector<QueueEntry> waiting;  ///< in order; the first one may be under way
  std::vector<EndedEntry> ended;    ///< of this shift
  std::string on_track;             ///< title of the engine; empty: not known
  bool moving = false;              ///< that one, between the loop and its staging track
  bool paused = false;
  int left_out = 0;  ///< engines of this shift that a rule has left out after a trip
  int last_number = 0;

  /// Takes what is of the queue; false for every other record. @throws Record::exception, std::invalid_argument
  bool follow(const Record& record, const std::string& kind);
  /// A new file has to tell all by itself; entries are told one by one.
  [[nodiscard]] Record carried() const;

 private:
  void begin(const Record& record);
  void move(int number, std::size_t place);
  void end(int number, const std::string& outcome, bool needs_person);
};

[[nodiscard]] Record queued_record(const QueueEntry& entry);

}  // namespace lapwright
