#include "tests/bench/options.h"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdlib>

#include "tests/bench/outcome.h"

namespace lapwright::bench {
namespace {

/// "11-15", "7" or "3,5,8-9".
std::vector<std::uint64_t> parse_seeds(const std::string& text) {
  std::vector<std::uint64_t> seeds;
  for (const std::string& part : CLI::detail::split(text, ',')) {
    const std::size_t dash = part.find('-');
    const std::uint64_t first = std::stoull(part.substr(0, dash));
    const std::uint64_t last = dash == std::string::npos ? first : std::stoull(part.substr(dash + 1));
    for (std::uint64_t seed = first; seed <= last; ++seed) seeds.push_back(seed);
  }
  return seeds;
}

std::string check_seeds(const std::string& text) {
  const bool good = !text.empty() && text.find_first_not_of("0123456789,-") == std::string::npos;
  return good ? std::string() : "seeds \"" + text + "\" are not like 11-15 or 3,5,8";
}

std::string check_strategy(const std::string& text) {
  for (const char* known : {lapwright_name, oracle_name, by_hand_name, bisection_name}) {
    if (text == known) return {};
  }
  return "strategy \"" + text + "\" is not one of lapwright, oracle, by-hand, bisection";
}

}  // namespace

bool Options::wants(const std::string& strategy) const { return std::ranges::count(strategies, strategy) > 0; }

Options parse_options(const std::vector<std::string>& words) {
  Options options;
  std::string seeds = "11-15";
  double jitter_ms = 1000 * options.jitter_s;
  bool plain = false;
  CLI::App app("Judges the tune on the simulated railway, in track time", "tests/bench/run.sh");
  app.require_subcommand(1);
  CLI::App& tune = *app.add_subcommand("tune", "every engine description × every seed");
  tune.add_option("--engines", options.engines, "folder of engine descriptions")->check(CLI::ExistingDirectory);
  tune.add_option("--engine", options.engine, "only the engine with this name or file name");
  tune.add_option("--seeds", seeds, "such as 11-15")->check(check_seeds);
  tune.add_option("--json", options.json, "file that gets all numbers");
  const std::map<std::string, Layout> layouts = {{"pair", Layout::pair},
                                                 {"shuttle", Layout::shuttle},
                                                 {"single-gate", Layout::single_gate},
                                                 {"three-gates", Layout::three_gates}};
  tune.add_option("--layout", options.layout, "pair, shuttle, single-gate or three-gates")
      ->transform(CLI::CheckedTransformer(layouts));
  const CLI::Option* length =
      tune.add_option("--loop-mm", options.length_mm, "length of the track; a shuttle has 3000");
  tune.add_option("--base-mm", options.base_mm, "between the gates of the trap")->check(CLI::Range(20.0, 2000.0));
  tune.add_option("--jitter-ms", jitter_ms, "standard deviation of a time stamp")->check(CLI::Range(0.0, 50.0));
  tune.add_option("--miss", options.miss, "probability that an edge is missed")->check(CLI::Range(0.0, 0.5));
  tune.add_option("--twin", options.twin, "probability that an edge is doubled")->check(CLI::Range(0.0, 0.5));
  tune.add_option("--strategies", options.strategies, "lapwright,oracle,by-hand,bisection")
      ->delimiter(',')
      ->check(check_strategy);
  tune.add_flag("--no-variants", plain, "leave out the runs with poor stamps and with missed and doubled edges");
  tune.add_option("--budget-s", options.budget_s, "track time allowed for one tune");
  tune.add_option("--patience", options.patience, "of Lapwright, in shortest proofs of the whole sheet")
      ->check(CLI::Range(1.0, 20.0));
  tune.add_option("--workers", options.workers, "processes at a time")->check(CLI::Range(1, 2));
  std::vector<std::string> reversed(words.rbegin(), words.rend());
  try {
    app.parse(reversed);
  } catch (const CLI::ParseError& error) {
    const int code = app.exit(error);  // prints the help or what is wrong
    std::exit(code == 0 ? 0 : 2);
  }
  options.seeds = parse_seeds(seeds);
  options.jitter_s = jitter_ms / 1000;
  if (options.layout == Layout::shuttle && length->count() == 0) options.length_mm = 3000;
  options.variants = !plain;
  return options;
}

}  // namespace lapwright::bench
