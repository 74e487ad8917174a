#include "daemon/queue_desk.h"

#include "drivers/settings/errors.h"

namespace lapwright {
namespace {

using QueueJson = nlohmann::json;

std::string text_in(const QueueJson& request, const char* key) {
  return request.contains(key) && request[key].is_string() ? request[key].get<std::string>() : "";
}

int number_asked(const QueueJson& request, const char* key) {
  return request.contains(key) && request[key].is_number_integer() ? request[key].get<int>() : 0;
}

QueueJson entry_json(const QueueEntry& entry) {
  return {{"entry", entry.number}, {"engine", entry.engine}, {"sheet", entry.sheet}, {"work", code(entry.work)}};
}

bool is_file(const std::string& name) { return name.ends_with(".json") || name.find('/') != std::string::npos; }

std::string no_such(int number) { return "no entry " + std::to_string(number) + " waits; see lapwright queue"; }

}  // namespace

nlohmann::json QueueDesk::told() const {
  const QueueStory& queue = book_.queue();
  QueueJson waiting = QueueJson::array();
  for (const QueueEntry& entry : queue.waiting) waiting.push_back(entry_json(entry));
  QueueJson ended = QueueJson::array();
  for (const EndedEntry& each : queue.ended) {
    QueueJson line = entry_json(each.entry);
    line["outcome"] = each.outcome;
    line["needs_person"] = each.needs_person;
    ended.push_back(std::move(line));
  }
  return {{"waiting", waiting},
          {"ended", ended},
          {"paused", queue.paused},
          {"on_track", queue.on_track},
          {"awaited", hand_over_.awaited()}};
}

nlohmann::json QueueDesk::answer(const QueueJson& request) {
  const std::string what = text_in(request, "ask") == "ready" ? "ready" : text_in(request, "do");
  const Said said = obey(what, request);
  return {{"queue", told()}, {"done", said.done}, {"text", said.text}};
}

QueueDesk::Said QueueDesk::obey(const std::string& what, const QueueJson& request) {
  if (what.empty()) return {};
  if (what == "add") return add(request);
  if (what == "move") return move(request);
  if (what == "cancel") return cancel(request);
  if (what == "pause") return pause(request.value("now", QueueJson()) == true);
  if (what == "resume") return resume();
  if (what != "ready") return {false, "\"do\" is add, move, cancel, pause or resume"};
  const std::string awaited = hand_over_.awaited();
  const std::string why_not = hand_over_.ready(text_in(request, "engine"));
  if (!why_not.empty()) return {false, why_not};
  return {true, "the shift goes on with " + awaited};
}

/// A record that has become wrong is told only where none of the others is the one that is meant.
std::optional<ShiftEntry> QueueDesk::named(const std::string& engine) const {
  std::vector<std::string> mistakes;
  for (const ShiftEntry& each : configuration_.engines()) {
    try {
      const EngineRecord record = load_record(each.record);
      if (title(record) == engine || file_stem(record) == engine) return each;
    } catch (const settings::Errors& errors) {
      mistakes.insert(mistakes.end(), errors.lines().begin(), errors.lines().end());
    }
  }
  if (!mistakes.empty()) throw settings::Errors(std::move(mistakes));
  return std::nullopt;
}

Job QueueDesk::find_job(const std::string& engine, const std::string& sheet, Work work) const {
  ShiftEntry entry{engine, sheet, work};
  if (!is_file(engine)) {
    const std::optional<ShiftEntry> found = named(engine);
    if (!found) {
      throw settings::Errors({engine +
                              ": no engine of /shift or /fleet is called so; name it as lapwright queue shows it, or "
                              "give its record's file and a sheet's"});
    }
    entry.record = found->record;
    if (sheet.empty()) entry.sheet = found->sheet;
  }
  if (entry.sheet.empty()) throw settings::Errors({engine + ": which target sheet? Name its file with --sheet"});
  return load_job(entry, configuration_);
}

QueueDesk::Said QueueDesk::add(const QueueJson& request) {
  const std::string name = request.contains("work") ? text_in(request, "work") : "tune";
  const std::optional<Work> work = read_work(name);
  if (!work) return {false, "\"" + name + "\" is no work that this service does"};
  const bool listed = request.contains("engines") && request["engines"].is_array() && !request["engines"].empty();
  if (!listed) return {false, "which engines?"};
  std::vector<Job> jobs;
  try {  // all or none
    for (const QueueJson& engine : request["engines"]) {
      if (!engine.is_string()) return {false, "\"engines\" are names"};
      jobs.push_back(find_job(engine.get<std::string>(), text_in(request, "sheet"), *work));
    }
  } catch (const settings::Errors& errors) {
    return {false, errors.what()};
  }
  std::string numbers;
  for (const Job& job : jobs) {
    const int number = book_.add(job, false);
    numbers += (numbers.empty() ? "" : ", ") + title(job.record) + " as entry " + std::to_string(number);
  }
  return {true, "added " + numbers};
}

QueueDesk::Said QueueDesk::move(const QueueJson& request) {
  const int number = number_asked(request, "entry");
  const int place = number_asked(request, "place");
  if (place < 1) return {false, "\"place\" counts from 1"};
  if (!book_.waits(number)) return {false, no_such(number)};
  const bool moved = book_.move(number, static_cast<std::size_t>(place - 1));
  return moved ? Said{true, "moved"} : Said{false, "it is under way: it can be cancelled, not moved"};
}

QueueDesk::Said QueueDesk::cancel(const QueueJson& request) {
  const int number = number_asked(request, "entry");
  if (!book_.waits(number)) return {false, no_such(number)};
  const bool first = book_.next()->number == number;
  book_.cancel(number, "cancelled by a person");
  if (first) button_.stop_job();
  return {true, first ? "cancelled; if it was under way, it is brought to rest" : "cancelled"};
}

QueueDesk::Said QueueDesk::pause(bool now) {
  book_.pause(true);
  if (now) button_.stop_job();
  return {true, now ? "paused: the engine is brought to rest, and goes on where it was after: lapwright queue resume"
                    : "paused: no further engine begins before: lapwright queue resume"};
}

QueueDesk::Said QueueDesk::resume() {
  book_.pause(false);
  return {true, book_.next() ? "the shift goes on" : "nobody waits"};
}

}  // namespace lapwright
