// Processes killed at any moment of a shift: the next one goes on without help, nothing that was durable is lost,
// nothing is proved twice, and the verdicts are those of a shift that nobody disturbed.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <thread>

#include "tests/crashes/simulated_disk.h"
#include "tests/crashes/speeded.h"
#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright::crashes {
namespace {

constexpr double longest_start_s = 30;

int kills_wanted() {
  const char* const told = std::getenv("LAPWRIGHT_KILLS");
  return told != nullptr ? std::atoi(told) : 30;
}

struct Kills {
  Kills() {
    SimulatedDisk disk(1);
    World world = quick_world(2);
    run_on(world, disk, "state", {});
    expected = verdicts(journal_of(disk, "state"));
  }
  /// @returns what the processes' shift left in its journal
  std::vector<Record> one_shift(const std::filesystem::path& folder) {
    std::vector<Record> durable;
    for (int tries = 0; tries < 200; ++tries) {
      const std::string again = std::to_string(tries);
      Process process(LAPWRIGHT_KILLED_SHIFT, {folder.string(), again}, folder / "output");
      if (kills < kills_wanted()) {
        std::this_thread::sleep_for(std::chrono::duration<double>(random.uniform(0.002, patience_s)));
        process.signal(SIGKILL);
      }
      const int status = process.wait(longest_start_s).value();
      const std::vector<Record> now = records_in(folder);
      const std::size_t alike = std::min(durable.size(), now.size());
      BOOST_TEST(now.size() >= durable.size(), "records are gone");
      BOOST_TEST(std::equal(now.begin(), now.begin() + static_cast<std::ptrdiff_t>(alike), durable.begin()));
      durable = now;
      // However fast the computer is: about as many are killed as come to their end.
      patience_s = status == 0 ? std::max(0.7 * patience_s, 0.05) : std::min(1.15 * patience_s, 10.0);
      if (status == 0) return durable;
      BOOST_REQUIRE_MESSAGE(status == 128 + SIGKILL, process.output());
      ++kills;
    }
    BOOST_FAIL("killed 200 times, and not through");
    return {};
  }
  static std::vector<Record> records_in(const std::filesystem::path& folder) {
    RealStorage storage;
    return journal_of(storage, folder / "state");
  }

  simulated::Random random{20261127};
  Verdicts expected;
  int kills = 0;
  double patience_s = 0.6;  ///< before a process is killed, at most
};

}  // namespace

BOOST_FIXTURE_TEST_SUITE(kill, Kills)

BOOST_AUTO_TEST_CASE(killed_at_any_moment) {
  int shifts = 0;
  while (kills < kills_wanted()) {
    TemporaryFolder folder;
    const int before = kills;
    const std::vector<Record> records = one_shift(folder.path());
    ++shifts;
    BOOST_TEST_CONTEXT("shift " << shifts << ", killed " << kills - before << " times") {
      for (const std::string& complaint : complaints(records)) BOOST_TEST(false, complaint);
      const Verdicts found = verdicts(records);
      for (const auto& [cell, verdict] : expected) {
        const auto at = found.find(cell);
        const std::string now = at == found.end() ? "none" : at->second;
        BOOST_TEST(now == verdict, cell << ": " << now << ", undisturbed: " << verdict);
      }
    }
  }
  BOOST_TEST_MESSAGE(kills << " kills in " << shifts << " shifts");
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::crashes
