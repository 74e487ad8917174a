#include "daemon/shift_book.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>

#include "daemon/wording.h"

namespace lapwright {

ShiftBook::ShiftBook(Journal& journal, const Calendar& calendar) : journal_(journal), calendar_(calendar) {
  for (const Record& record : journal.open()) story_.follow(record);
}

void ShiftBook::note(const Record& record) {
  story_.follow(record);
  journal_.note(record);
}

bool ShiftBook::knows(const Job& job) const {
  const std::string mark = mark_of(job);
  const auto waits = [&](const QueueEntry& entry) { return entry.mark == mark; };
  const auto is_through = [&](const EndedEntry& each) { return each.entry.mark == mark; };
  return std::any_of(story_.queue.waiting.begin(), story_.queue.waiting.end(), waits) ||
         std::any_of(story_.queue.ended.begin(), story_.queue.ended.end(), is_through);
}

void ShiftBook::begin_file() {
  journal_.begin_file();
  if (story_.open) story_.debts[story_.open->engine] = story_.open->cvs.owed;
  Record debts = Record::object();  // the new file has to tell all by itself
  for (const auto& [engine, cvs] : story_.debts) {
    if (!cvs.empty()) debts[engine] = cvs_record(cvs);
  }
  note({{"kind", "shift"}, {"id", calendar_.now()}, {"debts", std::move(debts)}, {"queue", story_.queue.carried()}});
}

void ShiftBook::begin(const std::vector<Job>& list) {
  begin_file();
  for (const Job& job : list) add(job, true);
}

void ShiftBook::take_up(const std::vector<Job>& list) {
  std::vector<Job> fresh;
  for (const Job& job : list) {
    if (!knows(job)) fresh.push_back(job);
  }
  if (story_.ended) {
    if (!fresh.empty()) begin(fresh);
    return;
  }
  const std::vector<QueueEntry> waiting = story_.queue.waiting;
  for (const QueueEntry& entry : waiting) {
    const auto same = [&](const Job& job) { return mark_of(job) == entry.mark; };
    const bool stays = !entry.listed || std::any_of(list.begin(), list.end(), same);
    if (!stays) cancel(entry.number, "not in the list any more");
  }
  for (const Job& job : fresh) add(job, true);
}

void ShiftBook::end() { note({{"kind", "shift_ends"}}); }

std::optional<QueueEntry> ShiftBook::next() const {
  return story_.queue.waiting.empty() ? std::nullopt : std::optional(story_.queue.waiting.front());
}

bool ShiftBook::waits(int number) const {
  const auto same = [&](const QueueEntry& entry) { return entry.number == number; };
  return std::any_of(story_.queue.waiting.begin(), story_.queue.waiting.end(), same);
}

int ShiftBook::add(const Job& job, bool listed) {
  if (story_.ended) begin_file();
  QueueEntry entry;
  entry.number = story_.queue.last_number + 1;
  entry.engine = title(job.record);
  entry.stem = file_stem(job.record);
  entry.sheet = job.sheet.name;
  entry.record_file = job.files.record;
  entry.sheet_file = job.files.sheet;
  entry.work = job.work;
  entry.mark = mark_of(job);
  entry.listed = listed;
  note(queued_record(entry));
  return entry.number;
}

bool ShiftBook::move(int number, std::size_t place) {
  if (!waits(number)) return false;
  const bool under_way = story_.open && story_.queue.waiting.front().mark == story_.open->mark;
  if (under_way && story_.queue.waiting.front().number == number) return false;
  note({{"kind", "moved"}, {"entry", number}, {"place", under_way ? std::max<std::size_t>(place, 1) : place}});
  return true;
}

bool ShiftBook::cancel(int number, const std::string& why) {
  if (!waits(number)) return false;
  note({{"kind", "cancelled"}, {"entry", number}, {"why", why}});
  return true;
}

void ShiftBook::pause(bool on) {
  if (on != story_.queue.paused) note({{"kind", "paused"}, {"on", on}});
}

void ShiftBook::stands_on_track(const std::string& engine) {
  if (engine == story_.queue.on_track && !story_.queue.moving) return;
  note({{"kind", "on_track"}, {"engine", engine}});
}

void ShiftBook::moves(const std::string& engine) { note({{"kind", "on_track"}, {"engine", engine}, {"moving", true}}); }

bool ShiftBook::was_broken_off(const Job& job) const { return story_.open && story_.open->mark == mark_of(job); }

JobBook ShiftBook::job_begins(const QueueEntry& entry, const Job& job) {
  if (was_broken_off(job)) {
    note({{"kind", "goes_on"},
          {"entry", entry.number},
          {"engine", story_.open->engine},
          {"passes", story_.open->heard.size()}});
  } else {
    const std::string mark = mark_of(job);
    note({{"kind", "job"},
          {"entry", entry.number},
          {"engine", title(job.record)},
          {"address", job.record.address},
          {"sheet", job.sheet.name},
          {"work", code(job.work)},
          {"id", fmt::format("{}-{}", calendar_.now(), mark)},
          {"mark", mark}});
  }
  return {journal_, calendar_, *story_.open};
}

void ShiftBook::job_ends(const QueueEntry& entry, const Job& job, const JobResult& result, bool left_out) {
  const VerdictCounts counts = count(by_step(result.tune.cells, job.sheet));
  note({{"kind", "job_ends"},
        {"entry", entry.number},
        {"engine", title(job.record)},
        {"mark", mark_of(job)},
        {"end", code(result.tune.end)},
        {"outcome", outcome_word(result, counts)},
        {"needs_person", needs_person(result)},
        {"left_out", left_out},
        {"owed", cvs_record(result.owed)}});
}

void ShiftBook::leave_out(const std::string& engine) {
  const std::vector<QueueEntry> waiting = story_.queue.waiting;
  for (const QueueEntry& entry : waiting) {
    if (entry.engine == engine) job_fails(entry, "it was left out of this shift after a trip");
  }
  stands_on_track("nobody knows whom");  // whoever comes next has to be set down
}

void ShiftBook::job_fails(const QueueEntry& entry, const std::string& why) {
  note({{"kind", "job_ends"},
        {"entry", entry.number},
        {"engine", entry.engine},
        {"mark", entry.mark},
        {"end", "not_begun"},
        {"outcome", "not begun"},
        {"why", why},
        {"needs_person", true},
        {"owed", Record::object()}});
}

}  // namespace lapwright
