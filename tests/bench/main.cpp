// The bench: judges the tune against the truth, against a lower bound and against two practices by hand.
#include <algorithm>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <stdexcept>

#include "drivers/simulated/engine_file.h"
#include "tests/bench/experiment.h"
#include "tests/bench/requirements.h"
#include "tests/bench/tables.h"
#include "tests/bench/workers.h"

namespace lapwright::bench {
namespace {

std::vector<simulated::EngineDescription> load_engines(const Options& options) {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(options.engines)) {
    if (entry.path().extension() == ".json") files.push_back(entry.path());
  }
  std::ranges::sort(files);
  std::vector<simulated::EngineDescription> engines;
  for (const auto& file : files) {
    simulated::EngineDescription engine = simulated::load_engine(file);
    const bool wanted = options.engine.empty() || options.engine == engine.name || options.engine == file.stem();
    if (wanted) engines.push_back(std::move(engine));
  }
  if (engines.empty()) throw std::runtime_error("no engine description to run in " + options.engines);
  return engines;
}

std::vector<RunResult> run_all(const Options& options) {
  const std::vector<simulated::EngineDescription> engines = load_engines(options);
  const std::size_t seeds = options.seeds.size();
  const auto job = [&](std::size_t number) {
    const RunResult result = run_experiment(options, engines[number / seeds], options.seeds[number % seeds]);
    const auto tuned = result.strategies.find(lapwright_name);
    std::fprintf(stderr, "%s seed %llu: through", result.engine.c_str(), static_cast<unsigned long long>(result.seed));
    if (tuned != result.strategies.end())
      std::fprintf(stderr, ", tuned in %.0f s of track time", tuned->second.track_s);
    std::fprintf(stderr, "\n");
    return nlohmann::json(result).dump();
  };
  std::vector<RunResult> runs;
  for (const std::string& text : run_in_processes(engines.size() * seeds, options.workers, job)) {
    runs.push_back(nlohmann::json::parse(text).get<RunResult>());
  }
  return runs;
}

int bench(const Options& options) {
  const std::vector<RunResult> runs = run_all(options);
  print_tables(runs);
  print_misses(runs);
  if (!options.json.empty()) {
    std::ofstream file(options.json);
    file << nlohmann::json(runs).dump(1) << '\n';
    if (!file) throw std::runtime_error("could not write " + options.json);
  }
  std::printf("\n");
  return print_requirements(requirements(runs)) ? 0 : 1;
}

}  // namespace
}  // namespace lapwright::bench

int main(int count, char** words) {
  try {
    const std::vector<std::string> list(words + 1, words + count);
    return lapwright::bench::bench(lapwright::bench::parse_options(list));
  } catch (const std::exception& error) {
    std::fprintf(stderr, "bench: %s\n", error.what());
    return 70;
  }
}
