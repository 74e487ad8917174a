// bench_restore: how much track time a restore takes beside the first tune of the same engine, over engines, seeds and
// both kinds of decoder. Track time is virtual and exact: from the live track to the dead one, the search for the
// decoder at two addresses and all writing included.
#include <algorithm>
#include <array>
#include <cstdio>
#include <vector>

#include "tests/works/workshop.h"

namespace {

using lapwright::ShiftTurn;
using lapwright::Work;
using lapwright::workday::Workshop;

constexpr std::array<const char*, 9> engines = {"bracken",   "fellbeck", "heather_bell", "low_fell",    "moor_hen",
                                                "old_quill", "sparrow",  "tarn_lady",    "thunder_gill"};
constexpr std::array<std::uint64_t, 5> seeds = {61, 62, 63, 64, 65};
constexpr double wanted_share = 0.12;

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

}  // namespace

int main() {
  std::vector<double> shares;
  int anew = 0;
  int lost = 0;
  std::printf("%-14s%-9s%6s%12s%12s%9s  %s\n", "engine", "decoder", "seed", "tune, s", "restore, s", "share",
              "came to");
  for (const char* name : engines) {
    for (const bool talks : {false, true}) {
      for (const std::uint64_t seed : seeds) {
        Workshop shop(std::string(LAPWRIGHT_CONFIGS "/engines/") + name + ".json", "sheets/slow_freight.json", seed);
        shop.move_to_long_address();
        if (talks) shop.let_it_talk();
        const ShiftTurn first = shop.run(Work::tune);
        shop.reset_decoder();
        const ShiftTurn restored = shop.run(Work::restore);
        const bool held = restored.result.work == Work::restore && restored.result.condition.has_value();
        const bool through = restored.result.tune.end == lapwright::TuneEnd::complete && !restored.result.stop;
        const double share = restored.result.tune.track_s / first.result.tune.track_s;
        anew += through && !held ? 1 : 0;
        lost += through ? 0 : 1;
        shares.push_back(share);
        std::printf("%-14s%-9s%6llu%12.0f%12.0f%8.1f%%  %s\n", name, talks ? "talks" : "silent",
                    static_cast<unsigned long long>(seed), first.result.tune.track_s, restored.result.tune.track_s,
                    100 * share,
                    !through ? "no end"
                    : held   ? "held"
                             : "tuned anew");
        std::fflush(stdout);
      }
    }
  }
  std::printf(
      "\n%zu restores: median %.1f %% of the first tune (wanted: at most %.0f %%), %d tuned anew, %d not through\n",
      shares.size(), 100 * median(shares), 100 * wanted_share, anew, lost);
  return median(shares) <= wanted_share && lost == 0 ? 0 : 1;
}
