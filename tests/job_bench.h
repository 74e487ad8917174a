// A journal and a book for one job, for tests that need no more of them: kept in a folder, or nowhere.
#pragma once

#include "daemon/shift_book.h"

namespace lapwright {

struct JobBench {
  /// @param folder  of the journal; empty: nothing is kept  @param disk  null: everything is written at once
  JobBench(std::filesystem::path folder, const Calendar& calendar, JobStory story, Worker* disk = nullptr)
      : journal(storage, disk != nullptr ? *disk : at_once, std::move(folder), calendar),
        book(journal, calendar, std::move(story)) {}
  static JobStory story_of(const std::string& engine) {
    JobStory story;
    story.engine = engine;
    return story;
  }

  RealStorage storage;
  InlineWorker at_once;
  Journal journal;
  JobBook book;
};

}  // namespace lapwright
