// bench_soak: nights of twelve hours in one process, on the virtual clock: shift after shift with its journal, its
// reports and its memory on the disk. Whether descriptors, threads or memory grow shows after the first night, which
// fills what is filled once. bash tests/bench/run.sh soak [NIGHTS]
#include <malloc.h>
#include <unistd.h>

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <optional>
#include <string>

#include "daemon/order.h"
#include "daemon/simulated_stand.h"
#include "tests/fixed_calendar.h"
#include "tests/played_shift.h"
#include "tests/temporary_folder.h"

namespace lapwright {
namespace {

constexpr double night_s = 12 * 3600;
constexpr double growth_limit_kB_h = 100;
constexpr std::time_t first_evening = 1'795'000'000;

class Silent final : public ShiftObserver {
 public:
  void engine_begins(const Job&, int, int) override {}
  void engine_ends(const Job&, const JobResult&) override {}
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
};

/// What could grow.
struct Held {
  long descriptors = 0, threads = 0;
  double resident_kB = 0, in_use_kB = 0;
};

long entries(const char* folder) {
  return std::distance(std::filesystem::directory_iterator(folder), std::filesystem::directory_iterator());
}

Held held() {
  Held now;
  now.descriptors = entries("/proc/self/fd");
  now.threads = entries("/proc/self/task");
  std::ifstream in("/proc/self/statm");
  double pages = 0, resident = 0;
  in >> pages >> resident;
  now.resident_kB = resident * static_cast<double>(::sysconf(_SC_PAGESIZE)) / 1024;
  now.in_use_kB = static_cast<double>(::mallinfo2().uordblks) / 1024;
  return now;
}

/// One shift of the configuration from its beginning to its end. @returns its virtual length, s; below 0: an engine
/// was left out
double work_through(Configuration configuration, std::uint64_t seed, const std::filesystem::path& folder) {
  configuration.rig.seed = seed;
  configuration.reports = folder / "reports";
  const std::vector<Job> jobs = plan_shift(configuration);
  VirtualClock clock;
  SimulatedStand stand(configuration.rig, clock);
  const FixedCalendar calendar(first_evening + static_cast<std::time_t>(seed) * 86400);  // day caps begin anew
  RealStorage storage;
  ShiftMemory memory(storage, folder, calendar, configuration.caps, configuration.retry);
  InlineWorker worker;
  Journal journal(storage, worker, folder / "journal", calendar);
  ShiftBook book(journal, calendar);
  book.begin(jobs);
  StopButton button;
  Silent observer;
  const Shift shift{configuration.railway, planner_among(jobs), configuration.limits, AllowedHours(),
                    configuration.reports};
  const ShiftMeans means{stand, clock, calendar, memory, book, button, observer};
  const ShiftResult outcome = played_shift(shift, means, clock, night_s);
  if (outcome.turns.size() != jobs.size()) return -1;
  return in_seconds(clock.now().time_since_epoch());
}

/// @returns how many shifts it took; 0: an engine was left out
int night(const Configuration& configuration, std::uint64_t& seed, const std::filesystem::path& folder) {
  int shifts = 0;
  for (double passed_s = 0; passed_s < night_s; ++shifts) {
    ++seed;
    const double took_s = work_through(configuration, seed, folder / std::to_string(seed));
    if (took_s < 0) return 0;
    passed_s += took_s;
  }
  return shifts;
}

int soak(int nights) {
  const TemporaryFolder folder;
  const Configuration configuration = load_configuration(LAPWRIGHT_CONFIGS "/demo.json");
  std::uint64_t seed = 900;
  std::printf("%-10s%8s%14s%10s%14s%14s\n", "after", "shifts", "descriptors", "threads", "resident, kB", "in use, kB");
  std::optional<Held> first;
  Held last;
  for (int number = 1; number <= nights; ++number) {
    const int shifts = night(configuration, seed, folder.path());
    if (shifts == 0) {
      std::printf("an engine was left out in night %d\n", number);
      return 1;
    }
    last = held();
    if (!first) first = last;
    std::printf("night %-4d%8d%14ld%10ld%14.0f%14.0f\n", number, shifts, last.descriptors, last.threads,
                last.resident_kB, last.in_use_kB);
    std::fflush(stdout);
  }
  const double hours = (nights - 1) * night_s / 3600;
  const double grows_kB_h = (last.resident_kB - first->resident_kB) / hours;
  std::printf("resident memory grows by %.1f kB an hour (at most %.0f), descriptors by %ld, threads by %ld\n",
              grows_kB_h, growth_limit_kB_h, last.descriptors - first->descriptors, last.threads - first->threads);
  const bool good =
      grows_kB_h < growth_limit_kB_h && last.descriptors == first->descriptors && last.threads == first->threads;
  return good ? 0 : 1;
}

}  // namespace
}  // namespace lapwright

int main(int count, char** words) {
  const int nights = count > 1 ? std::atoi(words[1]) : 3;
  if (nights < 2) {
    std::fprintf(stderr, "how many nights? A number from 2\n");
    return 2;
  }
  return lapwright::soak(nights);
}
