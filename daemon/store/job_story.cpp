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

}  // namespace

void JobStory::follow(const Record& record, std::time_t at) {
  const std::string kind = story_word(record, "kind");
  if (follow_cv(cvs, record, kind)) return;
  if (kind == "identity") identity = read_cvs(record.at("cvs"));
  if (kind == "before") before = read_cvs(record.at("cvs"));
  if (kind == "runs") ran = true;
  if (kind == "verdict" || kind == "withdrawn") {
    const std::pair cell(record.at("step").get<int>(), read_direction(story_word(record, "direction")));
    told.erase(cell);
    if (kind == "verdict") told[cell] = story_word(record, "verdict");
  } else if (const std::optional<Heard> known = read_heard(record)) {
    heard.push_back(*known);
    ran = true;
    last_at = std::max(last_at, at);
  }
}

void ShiftStory::keep_debts() {
  if (open && !open->cvs.owed.empty()) debts[open->engine] = open->cvs.owed;
  open.reset();
}

/// @throws Record::exception, std::invalid_argument
void ShiftStory::follow_known(const Record& record, const std::string& kind) {
  const bool of_queue = queue.follow(record, kind);
  if (kind == "shift") {
    keep_debts();
    ended = false;
    shift = record.value("id", std::int64_t{0});
    for (const auto& [engine, cvs] : record.at("debts").items()) debts[engine] = read_cvs(cvs);
  } else if (kind == "job") {
    keep_debts();
    JobStory& begun = open.emplace();
    begun.engine = story_word(record, "engine");
    begun.sheet = story_word(record, "sheet");
    begun.id = story_word(record, "id");
    begun.mark = story_word(record, "mark");
    begun.cvs.owed = debts[begun.engine];
    debts.erase(begun.engine);
  } else if (kind == "job_ends") {
    if (open && open->mark == story_word(record, "mark")) keep_debts();
  } else if (kind == "shift_ends") {
    ended = true;
  } else if (open && !of_queue) {
    open->follow(record, record.value("unix_s", std::time_t{0}));
  }
}

void ShiftStory::follow(const Record& record) {
  try {
    follow_known(record, story_word(record, "kind"));
  } catch (const Record::exception&) {
    ++unreadable;
  } catch (const std::invalid_argument&) {
    ++unreadable;
  }
}

Record cvs_record(const CvValues& cvs) {
  Record record = Record::object();
  for (const auto& [number, value] : cvs) record["CV" + std::to_string(number)] = value;
  return record;
}

CvValues read_cvs(const Record& record) {
  CvValues cvs;
  for (const auto& [name, value] : record.items()) {
    if (!name.starts_with("CV")) throw std::invalid_argument(name + " is no CV");
    cvs[std::stoi(name.substr(2))] = value.get<std::uint8_t>();
  }
  return cvs;
}

}  // namespace lapwright
