#include "daemon/store/job_story.h"

#include <stdexcept>

#include "daemon/store/heard_record.h"

namespace lapwright {
namespace {

std::string story_word(const Record& record, const char* key) { return record.at(key).get<std::string>(); }

int cv_of(const Record& record) { return record.at("cv").get<int>(); }

std::uint8_t value_of_cv(const Record& record) { return record.at("value").get<std::uint8_t>(); }

/// @returns false where the record is of no CV. @throws Record::exception, std::invalid_argument
bool follow_cv(CvMemory& cvs, const Record& record, std::string_view kind) {
  if (kind == "found") {
    cvs.note_found(cv_of(record), value_of_cv(record));
  } else if (kind == "owed") {
    cvs.note_owed(cv_of(record), value_of_cv(record));
  } else if (kind == "sending" || kind == "sending_bit") {
    cvs.note_sending(cv_of(record));
  } else if (kind == "sent") {
    cvs.note_sent(cv_of(record), value_of_cv(record), read_reply(story_word(record, "reply")));
  } else if (kind == "paid") {
    cvs.note_paid(cv_of(record));
  } else {
    return false;
  }
  return true;
}

/// @throws Record::exception, std::invalid_argument
void follow_shift(ShiftStory& story, const Record& record, std::string_view kind) {
  if (kind == "shift") {
    story = ShiftStory{{}, std::nullopt, false, story.unreadable};
  } else if (kind == "job") {
    story.open =
        JobStory{story_word(record, "engine"), story_word(record, "sheet"), story_word(record, "mark"), {}, {}, {}, 0};
  } else if (kind == "job_ends") {
    story.done[story_word(record, "mark")] = record.at("needs_person").get<bool>();
    story.open.reset();
  } else if (kind == "shift_ends") {
    story.ended = true;
  } else if (story.open) {
    story.open->follow(record, record.value("unix_s", std::time_t{0}));
  }
}

}  // namespace

void JobStory::follow(const Record& record, std::time_t at) {
  const std::string kind = story_word(record, "kind");
  last_at = std::max(last_at, at);
  if (follow_cv(cvs, record, kind)) return;
  if (kind == "verdict" || kind == "withdrawn") {
    const std::pair cell(record.at("step").get<int>(), read_direction(story_word(record, "direction")));
    told.erase(cell);
    if (kind == "verdict") told[cell] = story_word(record, "verdict");
  } else if (const std::optional<Heard> known = read_heard(record)) {
    heard.push_back(*known);
  }
}

ShiftStory tell_story(const std::vector<Record>& records) {
  ShiftStory story;
  for (const Record& record : records) {
    try {
      follow_shift(story, record, story_word(record, "kind"));
    } catch (const Record::exception&) {
      ++story.unreadable;
    } catch (const std::invalid_argument&) {
      ++story.unreadable;
    }
  }
  return story;
}

}  // namespace lapwright
