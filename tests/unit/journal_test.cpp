// The journal: every record is whole or not there, and what a crash or a full disk left is never taken for one.
#include "daemon/store/journal.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <fstream>
#include <sstream>

#include "daemon/store/heard_record.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

class SomeDay final : public Calendar {
 public:
  [[nodiscard]] std::time_t now() const override { return 1'795'000'000; }
};

/// Real files, and a disk that is full from some byte on.
class SmallDisk final : public Storage {
 public:
  explicit SmallDisk(RealStorage& files) : files_(files) {}
  std::optional<std::size_t> free_bytes;  ///< empty: plenty

  std::optional<std::string> read(const std::filesystem::path& path) override { return files_.read(path); }
  std::vector<std::string> list(const std::filesystem::path& folder) override { return files_.list(folder); }
  void make_folder(const std::filesystem::path& folder) override { files_.make_folder(folder); }
  void write(const std::filesystem::path& path, const std::string& text) override { files_.write(path, text); }
  void append(const std::filesystem::path& path, const std::string& text) override {
    if (!free_bytes || *free_bytes >= text.size()) return files_.append(path, text);
    files_.append(path, text.substr(0, *free_bytes));
    throw FileLost(path.string() + " can't be written: no space", ENOSPC);
  }
  void cut(const std::filesystem::path& path, std::size_t bytes) override { files_.cut(path, bytes); }
  void rename(const std::filesystem::path& from, const std::filesystem::path& to) override { files_.rename(from, to); }
  void remove(const std::filesystem::path& path) override { files_.remove(path); }
  void sync_folder(const std::filesystem::path& folder) override { files_.sync_folder(folder); }

 private:
  RealStorage& files_;
};

struct Desk {
  TemporaryFolder folder;
  SomeDay calendar;
  RealStorage files;
  SmallDisk disk{files};
  InlineWorker worker;

  [[nodiscard]] std::filesystem::path journals() const { return folder.path() / "journal"; }
  [[nodiscard]] Journal journal() { return {disk, worker, journals(), calendar}; }
  [[nodiscard]] std::filesystem::path file(int number = 1) const {
    return journals() / ("000" + std::to_string(number) + "-" + date_text(calendar.now()) + ".jsonl");
  }
  [[nodiscard]] std::string text(const std::filesystem::path& path) { return files.read(path).value_or(""); }
  static void flush(Journal& journal) {
    boost::asio::io_context context;
    std::exception_ptr failure;
    boost::asio::co_spawn(context, journal.flush(), [&](const std::exception_ptr& thrown) { failure = thrown; });
    context.run();
    if (failure) std::rethrow_exception(failure);
  }
  static void keep(Journal& journal, int number) {
    journal.note({{"kind", "found"}, {"cv", 3}, {"value", number}});
    flush(journal);
  }
  std::vector<int> values() {
    Journal again = journal();
    std::vector<int> result;
    for (const Record& record : again.open()) result.push_back(record.at("value").get<int>());
    return result;
  }
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(journal, Desk)

// RFC 3720 (iSCSI) appendix B.4 and the check value that catalogues of CRCs give for CRC-32C.
BOOST_AUTO_TEST_CASE(the_sum_is_crc32c) {
  BOOST_TEST(crc32c("123456789") == 0xE3069283U);
  BOOST_TEST(crc32c(std::string(32, '\0')) == 0x8A9136AAU);
  BOOST_TEST(crc32c(std::string(32, '\xff')) == 0x62A8AB43U);
  std::string rising;
  for (int byte = 0; byte < 32; ++byte) rising += static_cast<char>(byte);
  BOOST_TEST(crc32c(rising) == 0x46DD794EU);
}

BOOST_AUTO_TEST_CASE(a_line_comes_back_and_any_changed_byte_shows) {
  const Record record = {{"kind", "pass"}, {"speed_mm_s", 0.1 + 0.2}, {"name", "Tärn \"Lady\""}};
  const std::string line = journal_line(record);
  BOOST_REQUIRE(line.ends_with("\"}\n"));
  const std::string whole = line.substr(0, line.size() - 1);
  BOOST_TEST((read_journal_line(whole) == record));
  for (std::size_t at = 0; at < whole.size(); ++at) {
    for (const char other : {'0', ' ', '\xff'}) {
      std::string changed = whole;
      if (changed[at] == other) continue;
      changed[at] = other;
      BOOST_TEST(!read_journal_line(changed).has_value(), changed);
    }
    BOOST_TEST(!read_journal_line(whole.substr(0, at)).has_value());
  }
}

BOOST_AUTO_TEST_CASE(records_are_numbered_and_come_back_in_order) {
  Journal one = journal();
  BOOST_TEST(one.open().empty());
  keep(one, 1);
  one.note({{"kind", "found"}, {"cv", 3}, {"value", 2}});
  BOOST_TEST(!one.flushed());
  keep(one, 3);
  BOOST_TEST(one.flushed());
  Journal two = journal();
  const std::vector<Record> records = two.open();
  BOOST_REQUIRE(records.size() == 3U);
  for (std::size_t i = 0; i < records.size(); ++i) BOOST_TEST(records[i].at("seq").get<std::size_t>() == i + 1);
  keep(two, 4);
  BOOST_TEST((values() == std::vector{1, 2, 3, 4}));
  two.begin_file();
  keep(two, 5);
  BOOST_TEST((values() == std::vector{5}));
  BOOST_TEST(std::filesystem::exists(file(2)));
}

BOOST_AUTO_TEST_CASE(a_crash_at_any_byte_of_the_last_line_costs_that_line_alone) {
  Journal one = journal();
  keep(one, 1);
  keep(one, 2);
  const std::string before = text(file());
  keep(one, 3);
  const std::string after = text(file());
  for (std::size_t bytes = before.size(); bytes < after.size(); ++bytes) {
    files.write(file(), after.substr(0, bytes));
    BOOST_TEST((values() == std::vector{1, 2}));
    BOOST_TEST(text(file()) == before);
  }
  // What was left of it is kept aside.
  BOOST_TEST(text(file().string() + ".torn").find(R"("kind":"found")") != std::string::npos);
  // A block of zeros where the line should be, as file systems leave it.
  files.write(file(), before + std::string(after.size() - before.size(), '\0'));
  BOOST_TEST((values() == std::vector{1, 2}));
}

BOOST_AUTO_TEST_CASE(a_bad_line_in_the_middle_is_skipped_counted_and_left) {
  Journal one = journal();
  for (const int value : {1, 2, 3}) keep(one, value);
  std::string spoiled = text(file());
  spoiled[spoiled.find(R"("value":2)") + 8] = '7';
  files.write(file(), spoiled);
  Journal two = journal();
  BOOST_TEST(two.open().size() == 2U);
  BOOST_TEST(two.bad_lines() == 1);
  BOOST_TEST(text(file()) == spoiled);
  keep(two, 4);
  BOOST_TEST((values() == std::vector{1, 3, 4}));
}

BOOST_AUTO_TEST_CASE(a_newer_version_is_refused_and_left_alone) {
  files.make_folder(journals());
  for (const Record& head : {Record{{"schema", "lapwright journal"}, {"version", journal_version + 1}},
                             Record{{"schema", "something else"}, {"version", 1}}, Record{{"seq", 1}}}) {
    const std::string written = journal_line(head) + "half a li";
    files.write(file(), written);
    Journal one = journal();
    BOOST_CHECK_THROW(one.open(), FileLost);
    BOOST_TEST(text(file()) == written);
  }
}

BOOST_AUTO_TEST_CASE(a_full_disk_loses_nothing_that_was_noted) {
  Journal one = journal();
  keep(one, 1);
  for (std::size_t room = 0; room < 60; ++room) {
    disk.free_bytes = room;
    one.note({{"kind", "found"}, {"cv", 3}, {"value", static_cast<int>(room) + 2}});
    BOOST_CHECK_THROW(flush(one), FileLost);
    BOOST_TEST(!one.flushed());
  }
  disk.free_bytes.reset();
  flush(one);
  std::vector<int> all;
  for (int value = 1; value <= 61; ++value) all.push_back(value);
  BOOST_TEST(values() == all, boost::test_tools::per_element());
}

BOOST_AUTO_TEST_CASE(without_a_folder_nothing_is_kept) {
  Journal nowhere(disk, worker, {}, calendar);
  keep(nowhere, 1);
  BOOST_TEST(nowhere.open().empty());
  BOOST_TEST(!std::filesystem::exists(journals()));
}

BOOST_AUTO_TEST_CASE(what_the_track_told_comes_back_bit_by_bit) {
  const std::vector<Heard> told = {
      {0.1, Sighted{41, 1.0 / 3, false, 7.5}},
      {1e-9, Passed{17, Direction::reverse, 99.7, {PassTrouble::none, 87.123456789012345, 0.01, 1e-17, 12.5}, 13.25}},
      {2, Passed{1, Direction::forward, 3, {PassTrouble::no_exit, 0, 0, 0, 0}, 14}},
      {3, Recovered{Whereabouts::beyond_the_gate}},
      {4, Located{true}}};
  for (const Heard& heard : told) {
    const std::string line = journal_line(heard_record(heard));
    const auto record = read_journal_line(std::string_view(line).substr(0, line.size() - 1));
    BOOST_REQUIRE(record.has_value());
    const std::optional<Heard> back = read_heard(*record);
    BOOST_REQUIRE(back.has_value());
    BOOST_TEST(back->at_s == heard.at_s);
    BOOST_TEST(back->what.index() == heard.what.index());
    BOOST_TEST((heard_record(*back) == heard_record(heard)));
  }
  const auto pass = std::get<Passed>(read_heard(heard_record(told[1]))->what);
  BOOST_TEST(pass.reading.speed_mm_s == 87.123456789012345);
  BOOST_TEST(pass.reading.doubt_mm_s == 1e-17);
  BOOST_TEST(!read_heard({{"kind", "pass"}, {"step", "five"}}).has_value());
  BOOST_TEST(!read_heard({{"kind", "found"}, {"cv", 3}, {"value", 1}}).has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
