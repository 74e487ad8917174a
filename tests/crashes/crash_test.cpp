// The power goes, or the disk fails, at any operation of a shift: the next start goes on without help, what was
// acknowledged is there, and every engine comes to its end.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cerrno>
#include <cstdlib>

#include "tests/crashes/simulated_disk.h"
#include "tests/crashes/speeded.h"

namespace lapwright::crashes {
namespace {

const std::filesystem::path state = "state";

/// Every so-manieth operation; LAPWRIGHT_CRASHES=1 takes each one.
int stride() {
  const char* const told = std::getenv("LAPWRIGHT_CRASHES");
  return told != nullptr ? std::max(std::atoi(told), 1) : 23;
}

/// Where an operation takes several shifts, half as many; each one all the same if each is asked for.
int wide_stride() { return stride() == 1 ? 1 : 2 * stride(); }

struct Undisturbed {
  Undisturbed() {
    SimulatedDisk disk(1);
    World world = quick_world(1);
    run_on(world, disk, state, {});
    operations = disk.operations();
    records = journal_of(disk, state);
    BOOST_REQUIRE(complaints(records).empty());
    decoders = world.decoders;
  }
  int operations = 0;
  std::vector<Record> records;
  Decoders decoders;
};

const Undisturbed& undisturbed() {
  static const Undisturbed whole;
  return whole;
}

void check_verdicts(const std::vector<Record>& records) {
  const Verdicts found = verdicts(records);
  for (const auto& [cell, verdict] : verdicts(undisturbed().records)) {
    const auto at = found.find(cell);
    const std::string now = at == found.end() ? "none" : at->second;
    BOOST_TEST(now == verdict, cell << ": " << now << ", undisturbed: " << verdict);
  }
}

/// Starts the shift until it is through; every try but the last loses its power in the operation that `cuts` gives.
void go_through(std::uint64_t seed, std::vector<int> cuts) {
  SimulatedDisk disk(seed);
  World world = quick_world(1);
  std::vector<Record> acknowledged;
  for (std::size_t tries = 0;; ++tries) {
    BOOST_REQUIRE(tries <= cuts.size());
    if (tries < cuts.size()) disk.power_cut_at = disk.operations() + cuts[tries];
    Decoders at_the_cut;
    bool cut = false;
    try {
      run_on(world, disk, state, [&] {
        if (disk.dead()) return;
        at_the_cut = world.decoders;
        acknowledged = journal_of(disk, state);  // it waited for them before it wrote
      });
    } catch (const PowerCut&) {
      cut = true;
    }
    if (!cut) break;
    if (!at_the_cut.empty()) world.decoders = at_the_cut;  // the way out that a dead program does not take
    disk.restart();
  }
  const std::vector<Record> records = journal_of(disk, state);
  BOOST_REQUIRE(records.size() >= acknowledged.size());
  BOOST_TEST(std::equal(acknowledged.begin(), acknowledged.end(), records.begin()));
  for (const std::string& complaint : complaints(records)) BOOST_TEST(false, complaint);
  check_verdicts(records);
  for (const int lent : {3, 4}) {
    for (auto& [address, memory] : world.decoders) {
      BOOST_TEST(int{memory[lent]} == int{undisturbed().decoders.at(address).at(lent)}, "CV" << lent);
    }
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(crash)

BOOST_AUTO_TEST_CASE(the_power_goes_at_any_operation) {
  BOOST_TEST_MESSAGE(undisturbed().operations << " operations in an undisturbed shift");
  for (int at = 0; at < undisturbed().operations; at += stride()) {
    BOOST_TEST_CONTEXT("power cut in operation " << at) { go_through(1000 + static_cast<std::uint64_t>(at), {at}); }
  }
}

BOOST_AUTO_TEST_CASE(and_again_while_it_recovers) {
  for (int at = 0; at < undisturbed().operations; at += wide_stride()) {
    for (const int again : {0, 1, 2, 3, 5, 8, 13}) {
      BOOST_TEST_CONTEXT("power cut in operation " << at << " and then in operation " << again) {
        go_through(5000 + static_cast<std::uint64_t>(at), {at, again});
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(the_disk_fails_at_any_operation) {
  for (const int error : {ENOSPC, EIO}) {
    for (int at = 0; at < undisturbed().operations; at += wide_stride()) {
      BOOST_TEST_CONTEXT("error " << error << " from operation " << at) {
        SimulatedDisk disk(9000 + static_cast<std::uint64_t>(at));
        World world = quick_world(1);
        disk.fails_at = at;
        disk.error = error;
        bool failed = false;
        try {
          run_on(world, disk, state, {});
        } catch (const FileLost& lost) {
          failed = true;
          BOOST_TEST(lost.error() == error);
        }
        BOOST_TEST(failed);
        disk.repair();
        run_on(world, disk, state, {});
        const std::vector<Record> records = journal_of(disk, state);
        for (const std::string& complaint : complaints(records)) BOOST_TEST(false, complaint);
        check_verdicts(records);
      }
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::crashes
