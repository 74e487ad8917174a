#include "daemon/store/queue_story.h"

#include <algorithm>
#include <stdexcept>

namespace lapwright {
namespace {

std::string queue_word(const Record& record, const char* key) { return record.at(key).get<std::string>(); }

int number_in(const Record& record) { return record.at("entry").get<int>(); }

QueueEntry read_queued(const Record& record) {
  QueueEntry entry;
  entry.number = number_in(record);
  entry.engine = queue_word(record, "engine");
  entry.stem = queue_word(record, "stem");
  entry.sheet = queue_word(record, "sheet");
  entry.record_file = queue_word(record, "record_file");
  entry.sheet_file = queue_word(record, "sheet_file");
  const std::optional<Work> work = read_work(queue_word(record, "work"));
  if (!work) throw std::invalid_argument("a work that this version does not know");
  entry.work = *work;
  entry.mark = queue_word(record, "mark");
  entry.listed = record.at("listed").get<bool>();
  return entry;
}

auto placed_at(std::vector<QueueEntry>& entries, int number) {
  return std::find_if(entries.begin(), entries.end(), [&](const QueueEntry& entry) { return entry.number == number; });
}

}  // namespace

Record queued_record(const QueueEntry& entry) {
  return {{"kind", "queued"},
          {"entry", entry.number},
          {"engine", entry.engine},
          {"stem", entry.stem},
          {"sheet", entry.sheet},
          {"record_file", entry.record_file.string()},
          {"sheet_file", entry.sheet_file.string()},
          {"work", code(entry.work)},
          {"mark", entry.mark},
          {"listed", entry.listed}};
}

Record QueueStory::carried() const {
  return {{"paused", paused}, {"on_track", on_track}, {"moving", moving}, {"last_number", last_number}};
}

void QueueStory::begin(const Record& record) {
  waiting.clear();
  ended.clear();
  left_out = 0;
  if (!record.contains("queue")) return;  // of a version that had none
  const Record& held = record.at("queue");
  paused = held.at("paused").get<bool>();
  on_track = queue_word(held, "on_track");
  moving = held.value("moving", false);
  last_number = held.at("last_number").get<int>();
}

void QueueStory::move(int number, std::size_t place) {
  const auto found = placed_at(waiting, number);
  if (found == waiting.end()) return;
  const QueueEntry entry = *found;
  waiting.erase(found);
  waiting.insert(waiting.begin() + static_cast<std::ptrdiff_t>(std::min(place, waiting.size())), entry);
}

void QueueStory::end(int number, const std::string& outcome, bool needs_person) {
  const auto found = placed_at(waiting, number);
  if (found != waiting.end()) {
    ended.push_back({*found, outcome, needs_person});
    waiting.erase(found);
    return;
  }
  // It was taken off the queue while it was under way: now it is told what became of it.
  for (EndedEntry& each : ended) {
    if (each.entry.number == number) each.needs_person = needs_person;
  }
}

bool QueueStory::follow(const Record& record, const std::string& kind) {
  if (kind == "shift") {
    begin(record);
  } else if (kind == "queued") {
    waiting.push_back(read_queued(record));
    last_number = std::max(last_number, waiting.back().number);
  } else if (kind == "moved") {
    move(number_in(record), record.at("place").get<std::size_t>());
  } else if (kind == "cancelled") {
    end(number_in(record), queue_word(record, "why"), false);
  } else if (kind == "job_ends") {
    end(number_in(record), queue_word(record, "outcome"), record.at("needs_person").get<bool>());
    left_out += record.value("left_out", false) ? 1 : 0;
  } else if (kind == "paused") {
    paused = record.at("on").get<bool>();
  } else if (kind == "on_track") {
    on_track = queue_word(record, "engine");
    moving = record.value("moving", false);
  } else {
    return false;
  }
  return true;
}

}  // namespace lapwright
