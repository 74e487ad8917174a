// bench_restore: how much track time a restore takes beside the first tune of the same engine, over engines, seeds and
// both kinds of decoder. Track time is virtual and exact: from the live track to the dead one, the search for the
// decoder at two addresses and all writing included.
#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <map>
#include <string>
#include <vector>

#include "drivers/simulated/railway.h"
#include "drivers/simulated/truth.h"
#include "tests/works/workshop.h"

namespace {

using lapwright::ShiftTurn;
using lapwright::Work;
using lapwright::workday::Workshop;

constexpr double wanted_share = 0.12;

struct Asked {
  std::vector<std::string> engines = {"bracken",   "fellbeck", "heather_bell", "low_fell",    "moor_hen",
                                      "old_quill", "sparrow",  "tarn_lady",    "thunder_gill"};
  std::vector<std::uint64_t> seeds = {61, 62, 63, 64, 65};
  std::vector<std::string> decoders = {"silent", "talks"};
  double faster = 1;   ///< than at its tune: it was oiled
  double rougher = 1;  ///< friction that wanders and jolts, at its restore, in that at its tune: a worn gear, dirt
  bool story = false;  ///< of each restore
};

Asked asked(int argc, char** argv) {
  Asked result;
  std::string seeds;
  CLI::App app("What a restore costs beside a first tune, in track time", "tests/bench/run.sh restore");
  app.add_option("--engine", result.engines, "only these, by file name");
  app.add_option("--seeds", seeds, "such as 61-65");
  app.add_option("--decoders", result.decoders, "silent, talks")->check(CLI::IsMember({"silent", "talks"}));
  app.add_option("--faster", result.faster, "top speed of the engine at its restore, in that at its tune");
  app.add_option("--rougher", result.rougher, "wandering and jolting friction at its restore, in that at its tune");
  app.add_flag("--story", result.story, "tells what each restore did, and when");
  try {
    app.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    const int code = app.exit(error);
    std::exit(code == 0 ? 0 : 2);
  }
  if (seeds.empty()) return result;
  const std::size_t dash = seeds.find('-');
  const std::uint64_t last = std::stoull(dash == std::string::npos ? seeds : seeds.substr(dash + 1));
  result.seeds.clear();
  for (std::uint64_t seed = std::stoull(seeds); seed <= last; ++seed) result.seeds.push_back(seed);
  return result;
}

double median(std::vector<double> values) {
  std::sort(values.begin(), values.end());
  const std::size_t half = values.size() / 2;
  return values.size() % 2 == 1 ? values[half] : 0.5 * (values[half - 1] + values[half]);
}

struct Tally {
  std::vector<double> shares;
  int held = 0;
  int retuned = 0;
  int lost = 0;
  int proofs = 0;  ///< of the restores that held
  int untrue = 0;  ///< of those
};

void tell(const std::string& who, const Tally& tally) {
  std::printf(
      "%-14s%4zu restores: median %5.1f %%, %d held, %d tuned anew, %d not through; %d of %d proofs of those that held "
      "are not true\n",
      who.c_str(), tally.shares.size(), 100 * median(tally.shares), tally.held, tally.retuned, tally.lost, tally.untrue,
      tally.proofs);
}

/// Proofs that the truth does not bear out.
int untrue(Workshop& shop, const std::vector<lapwright::CellResult>& cells) {
  using namespace lapwright::simulated;
  const lapwright::SimulatedSetup& rig = shop.configuration.rig;
  const Railway railway(rig.railway, shop.engine(), rig.seed);  // for its track; it never runs
  const std::vector<double>& gates = railway.track().gates_mm();
  Truth truth(shop.engine(), railway.track(), railway.track_volts(), {gates.front(), gates.back()});
  DecoderDescription description = shop.engine().decoder;
  description.cvs = shop.decoder();
  const Decoder decoder(description);
  int result = 0;
  for (const lapwright::CellResult& cell : cells) {
    if (cell.verdict != lapwright::Verdict::proved) continue;
    const lapwright::ThrottleCommand command{cell.step, cell.direction, lapwright::StepMode::steps28};
    const double off = truth.speed_mm_s(decoder, command) - cell.target_mm_s;
    if (std::abs(off) <= cell.tolerance_mm_s) continue;
    ++result;
    std::printf("    untrue: step %d %s, off by %+.2f tolerances, said %+.2f +- %.2f, %d passes\n", cell.step,
                cell.direction == lapwright::Direction::forward ? "forward" : "in reverse", off / cell.tolerance_mm_s,
                (cell.speed_mm_s - cell.target_mm_s) / cell.tolerance_mm_s, cell.half_width_mm_s / cell.tolerance_mm_s,
                cell.passes);
  }
  return result;
}

int proofs(const std::vector<lapwright::CellResult>& cells) {
  return static_cast<int>(std::ranges::count(cells, lapwright::Verdict::proved, &lapwright::CellResult::verdict));
}

struct Came {
  double share = 0;
  bool through = false;
  bool held = false;
  int proofs = 0;
  int untrue = 0;
};

void add(Tally& tally, const Came& came) {
  tally.shares.push_back(came.share);
  ++(!came.through ? tally.lost : came.held ? tally.held : tally.retuned);
  if (!came.through || !came.held) return;
  tally.proofs += came.proofs;
  tally.untrue += came.untrue;
}

void one(const Asked& ask, const std::string& name, bool talks, std::uint64_t seed, Tally& all, Tally& its) {
  Workshop shop(std::string(LAPWRIGHT_CONFIGS "/engines/") + name + ".json", "sheets/slow_freight.json", seed);
  shop.move_to_long_address();
  if (talks) shop.let_it_talk();
  const ShiftTurn first = shop.run(Work::tune);
  const int untrue_at_first = untrue(shop, first.result.tune.cells);
  shop.reset_decoder();
  shop.engine().motor.top_speed_mm_s *= ask.faster;
  shop.engine().friction.wander *= ask.rougher;
  shop.engine().friction.jolt *= ask.rougher;
  const ShiftTurn restored = shop.run(Work::restore);
  Came came;
  came.held = restored.result.work == Work::restore && restored.result.condition == lapwright::Condition::as_tuned;
  came.through = restored.result.tune.end == lapwright::TuneEnd::complete && !restored.result.stop;
  came.share = restored.result.tune.track_s / first.result.tune.track_s;
  came.proofs = proofs(restored.result.tune.cells);
  came.untrue = untrue(shop, restored.result.tune.cells);
  add(all, came);
  add(its, came);
  std::printf("%-14s%-9s%6llu%12.0f%12.0f%8.1f%%  %-12s%3d of %d not true (of the tune %d of %d)\n", name.c_str(),
              talks ? "talks" : "silent", static_cast<unsigned long long>(seed), first.result.tune.track_s,
              restored.result.tune.track_s, 100 * came.share,
              !came.through ? "no end"
              : came.held   ? "held"
                            : "tuned anew",
              came.untrue, came.proofs, untrue_at_first, proofs(first.result.tune.cells));
  if (ask.story) {
    for (const auto& told : shop.story) std::printf("    %8.1f  %s\n", told.at_s, told.what.c_str());
    for (const lapwright::CellResult& cell : restored.result.tune.cells) {
      std::printf("    step %d %s: %.3f +- %.3f mm/s, wanted %.3f +- %.3f, %d passes, verdict %d%s\n", cell.step,
                  cell.direction == lapwright::Direction::forward ? "forward" : "in reverse", cell.speed_mm_s,
                  cell.half_width_mm_s, cell.target_mm_s, cell.tolerance_mm_s, cell.passes,
                  static_cast<int>(cell.verdict), cell.as_before ? ", as before" : "");
    }
    std::printf("    the tune: %s%s\n", first.result.tune.detail.c_str(),
                first.result.stop ? first.result.stop->sentence.c_str() : "");
    std::printf("    the restore: %s%s\n", restored.result.tune.detail.c_str(),
                restored.result.stop ? restored.result.stop->sentence.c_str() : "");
    std::printf("    %s\n", restored.result.told.c_str());
    for (const std::string& remark : restored.result.tune.remarks) std::printf("    %s\n", remark.c_str());
  }
  std::fflush(stdout);
}

}  // namespace

int main(int argc, char** argv) {
  const Asked ask = asked(argc, argv);
  Tally all;
  std::map<std::string, Tally> engines;
  std::printf("%-14s%-9s%6s%12s%12s%9s  %s\n", "engine", "decoder", "seed", "tune, s", "restore, s", "share",
              "came to");
  for (const std::string& name : ask.engines) {
    for (const std::string& decoder : ask.decoders) {
      for (const std::uint64_t seed : ask.seeds) one(ask, name, decoder == "talks", seed, all, engines[name]);
    }
  }
  std::printf("\n");
  for (const auto& [name, tally] : engines) tell(name, tally);
  tell("all", all);
  std::printf("wanted: a median of at most %.0f %%\n", 100 * wanted_share);
  return median(all.shares) <= wanted_share && all.lost == 0 ? 0 : 1;
}
