#include "daemon/store/journal.h"

#include <spdlog/fmt/fmt.h>

#include <boost/asio/steady_timer.hpp>
#include <boost/asio/this_coro.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {
namespace asio = boost::asio;
namespace fs = std::filesystem;
namespace {

constexpr const char* journal_schema = "lapwright journal";
constexpr const char* ending = ".jsonl";
constexpr auto looks_every = std::chrono::milliseconds(1);

[[noreturn]] void not_ours(const fs::path& path) {
  throw FileLost(path.string() +
                 " does not begin as a journal of this program does, or a newer version of it wrote it. " +
                 "Use that version, or move the file away: what it holds is not known to this program then");
}

void check_head(const Record& head, const fs::path& path) {
  const bool ours = head.value("schema", Record()) == journal_schema && head.contains("version") &&
                    head["version"].is_number_integer() && head["version"].get<int>() <= journal_version;
  if (!ours) not_ours(path);
}

/// "0007-2026-11-27.jsonl": by number, since clocks are set.
int number_of(const std::string& name) {
  if (!name.ends_with(ending)) return 0;
  int number = 0;
  for (const char digit : name) {
    if (digit < '0' || digit > '9') break;
    number = number * 10 + (digit - '0');
  }
  return number;
}

/// True as long as it lives, whatever ends that.
class Busy {
 public:
  explicit Busy(bool& flag) : flag_(flag) { flag_ = true; }
  ~Busy() { flag_ = false; }
  Busy(const Busy&) = delete;
  Busy& operator=(const Busy&) = delete;

 private:
  bool& flag_;
};

}  // namespace

JournalText read_journal(const std::string& text, const fs::path& path) {
  JournalText result;
  bool head = true;
  std::size_t at = 0;
  while (at < text.size()) {
    const std::size_t end = text.find('\n', at);
    const bool last = end == std::string::npos || end + 1 == text.size();
    const std::string_view line =
        std::string_view(text).substr(at, (end == std::string::npos ? text.size() : end) - at);
    std::optional<Record> record = end == std::string::npos ? std::nullopt : read_journal_line(line);
    if (!record && last) {
      result.tail = text.substr(at);
      return result;
    }
    at = end + 1;
    result.whole_bytes = at;
    if (!record) {
      ++result.bad_lines;
    } else if (head) {
      check_head(*record, path);
      head = false;
    } else {
      result.records.push_back(std::move(*record));
    }
  }
  return result;
}

Journal::Journal(Storage& storage, Worker& worker, fs::path folder, const Calendar& calendar)
    : storage_(storage), worker_(worker), folder_(std::move(folder)), calendar_(calendar) {}

int Journal::latest_number() const {
  int latest = 0;
  for (const std::string& name : storage_.list(folder_)) latest = std::max(latest, number_of(name));
  return latest;
}

std::vector<Record> Journal::open() {
  if (folder_.empty()) return {};
  std::string latest;
  for (const std::string& name : storage_.list(folder_)) {
    if (number_of(name) > number_of(latest)) latest = name;
  }
  if (latest.empty()) return {};
  const fs::path path = folder_ / latest;
  JournalText found = read_journal(storage_.read(path).value_or(""), path);
  bad_lines_ = found.bad_lines;
  if (!found.tail.empty()) {
    fs::path aside = path;
    aside += ".torn";
    storage_.append(aside, found.tail + "\n");
    storage_.sync_folder(folder_);
  }
  // Also where nothing is torn: what a killed program wrote may be in memory only, and is acted upon from now on.
  storage_.cut(path, found.whole_bytes);
  storage_.sync_folder(folder_);
  if (found.whole_bytes == 0) return {};  // a crash left not even its head: the next record begins another file
  file_ = path;
  durable_bytes_ = found.whole_bytes;
  for (const Record& record : found.records) next_ = std::max(next_, record.value("seq", std::int64_t{0}) + 1);
  return std::move(found.records);
}

void Journal::begin_file() {
  file_.clear();
  durable_bytes_ = 0;
  next_ = 1;
}

void Journal::note(const Record& record) {
  if (folder_.empty()) return;
  Record whole = {{"seq", next_++}, {"at", time_text(calendar_.now())}, {"unix_s", calendar_.now()}};
  whole.update(record);
  pending_ += journal_line(whole);
}

asio::awaitable<void> Journal::flush() {
  while (writing_) {
    asio::steady_timer alarm(co_await asio::this_coro::executor, looks_every);
    co_await alarm.async_wait(asio::use_awaitable);
  }
  if (pending_.empty()) co_return;
  if (file_.empty()) {
    file_ = folder_ / fmt::format("{:04}-{}{}", latest_number() + 1, date_text(calendar_.now()), ending);
    pending_.insert(0, journal_line({{"schema", journal_schema}, {"version", journal_version}}));
  }
  std::string lines;
  lines.swap(pending_);
  std::exception_ptr failure;
  std::function<void()> work = [this, &lines, &failure] {
    try {
      write(lines);
    } catch (const FileLost&) {
      failure = std::current_exception();
    }
  };
  const Busy busy(writing_);
  co_await worker_.run(work);
  if (!failure) co_return;
  pending_.insert(0, lines);
  std::rethrow_exception(failure);
}

/// On the worker's thread; nothing else touches the file or these members meanwhile.
void Journal::write(const std::string& lines) {
  if (durable_bytes_ == 0) storage_.make_folder(folder_);
  // What a failed write left is taken off: all of it comes again.
  if (hurt_ && storage_.read(file_)) storage_.cut(file_, durable_bytes_);
  hurt_ = true;
  storage_.append(file_, lines);
  if (durable_bytes_ == 0) storage_.sync_folder(folder_);
  hurt_ = false;
  durable_bytes_ += lines.size();
}

}  // namespace lapwright
