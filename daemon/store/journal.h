// The journal: what happened, one record a line, on the disk before anything is done about it. One file for each shift.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <string>
#include <vector>

#include "daemon/calendar.h"
#include "daemon/store/journal_line.h"
#include "daemon/store/storage.h"
#include "daemon/store/worker.h"

namespace lapwright {

inline constexpr int journal_version = 1;  ///< of the records; a newer one is refused

/// What a file of it holds.
struct JournalText {
  std::vector<Record> records;  ///< whole ones, in order, the head left out
  int bad_lines = 0;            ///< in the middle: skipped and left as they are
  std::size_t whole_bytes = 0;  ///< up to here lines end as they should
  std::string tail;             ///< what a crash left of the last line
};

/// @throws FileLost  of another program or a newer version
[[nodiscard]] JournalText read_journal(const std::string& text, const std::filesystem::path& path);

class Journal {
 public:
  /// All outlive it. @param folder  for its files; empty: nothing is kept, and nothing is found
  Journal(Storage& storage, Worker& worker, std::filesystem::path folder, const Calendar& calendar);

  /// Goes on in the latest file. What is left of a line that a crash cut is copied aside and taken off.
  /// @returns its records; none where there is no file. @throws FileLost
  std::vector<Record> open();
  /// From now on a new file, when the next record is kept.
  void begin_file();

  /// Gets a number and the time; kept by the next `flush`. @param record  with "kind"
  void note(const Record& record);
  /// Until all that was noted is on the disk. @throws FileLost; the records stay noted then
  boost::asio::awaitable<void> flush();
  [[nodiscard]] bool flushed() const { return pending_.empty() && !writing_; }
  [[nodiscard]] Worker& worker() const { return worker_; }  ///< for what else has to wait for the disk
  [[nodiscard]] int bad_lines() const { return bad_lines_; }
  [[nodiscard]] const std::filesystem::path& file() const { return file_; }

 private:
  [[nodiscard]] int latest_number() const;
  void write(const std::string& lines);

  Storage& storage_;
  Worker& worker_;
  std::filesystem::path folder_;
  const Calendar& calendar_;
  std::filesystem::path file_;     ///< empty: the next record begins one
  std::size_t durable_bytes_ = 0;  ///< of it
  std::int64_t next_ = 1;          ///< number of the next record in it
  std::string pending_;
  bool writing_ = false;
  bool hurt_ = false;  ///< a write failed and may have left something
  int bad_lines_ = 0;
};

}  // namespace lapwright
