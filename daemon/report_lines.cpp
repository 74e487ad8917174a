#include "daemon/report_lines.h"

#include <spdlog/fmt/fmt.h>

#include <set>

#include "daemon/wording.h"

namespace lapwright {

std::string identity_line(const EngineRecord& record) {
  return fmt::format("{} 1:{:g}, {} address {}", record.scale.name, record.scale.ratio,
                     record.long_address ? "long" : "short", record.address);
}

std::vector<std::pair<std::string, std::string>> fact_lines(const Job& job, const JobResult& result) {
  const TuneResult& tune = result.tune;
  return {{"Target sheet", fmt::format("{}, {} at {} speed steps", job.sheet.name, scale_unit(job.sheet.unit),
                                       top_step(job.sheet.mode))},
          {"Speed defined", job.speed_defined},
          {"Work", fmt::format("{} of track time, {} passes ({} rejected), {} CV writes", duration_text(tune.track_s),
                               tune.passes, tune.rejected, tune.writes)},
          {"Decoder", fmt::format("trims act: {}; table scaled between CV2 and CV5: {}; table in use: {}",
                                  known_word(tune.traits.trims_act), known_word(tune.traits.table_scaled),
                                  known_word(tune.traits.table_enabled))}};
}

std::vector<std::string> reason_lines(const std::vector<StepResult>& steps) {
  std::set<Shortfall> seen;
  std::vector<std::string> lines;
  for (const StepResult& step : steps) {
    const Shortfall shortfall = step.shortfall();
    if (shortfall == Shortfall::none || !seen.insert(shortfall).second) continue;
    std::vector<int> at;
    for (const StepResult& other : steps) {
      if (other.shortfall() == shortfall) at.push_back(other.step);
    }
    lines.push_back(
        fmt::format("{} {}: {}.", at.size() == 1 ? "Step" : "Steps", fmt::join(at, ", "), sentence(shortfall)));
  }
  return lines;
}

std::vector<std::string> debt_lines(const JobResult& result) {
  std::vector<std::string> lines;
  lines.reserve(result.owed.size());
  for (const auto& [number, value] : result.owed) {
    lines.push_back(fmt::format("Owed: CV{} = {}. It was changed for the work; write it by hand.", number, value));
  }
  return lines;
}

std::vector<std::string> to_do_lines(const JobResult& result) {
  std::vector<std::string> lines;
  if (rig_is_lost(result)) {
    lines.emplace_back("The track is dead. Look at engine and rig; when all is well, go on with: lapwright clear.");
  }
  for (const auto& each : {debt_lines(result), trouble_lines(result)}) {
    lines.insert(lines.end(), each.begin(), each.end());
  }
  return lines;
}

std::vector<std::string> start_lines(const JobResult& result) {
  std::vector<std::string> lines;
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const std::optional<bool>& starts = result.tune.starts[index(direction)];
    if (starts.value_or(true)) continue;
    lines.push_back(
        fmt::format("The lowest step in {} keeps the engine moving but does not start it from rest: use a kick start "
                    "(CV65), or start at a higher step.",
                    direction == Direction::forward ? "forward" : "reverse"));
  }
  return lines;
}

std::vector<std::string> trouble_lines(const JobResult& result) {
  std::vector<std::string> lines;
  lines.reserve(result.troubles.size());
  for (const std::string& trouble : result.troubles) lines.push_back(trouble + ".");
  return lines;
}

std::vector<std::string> note_lines(const Job& job, const JobResult& result) {
  std::vector<std::string> lines;
  lines.reserve(result.tune.remarks.size() + 1);
  for (const std::string& remark : result.tune.remarks) lines.push_back(remark + ".");
  if (!job.record.notes.empty()) lines.push_back("The record notes: " + job.record.notes);
  return lines;
}

std::vector<std::string> reading_lines(const Job& job) {
  return {fmt::format("± is half the width of the {:g} % interval, the gates' positions included.",
                      job.order.confidence * 100),
          "CV29 must have bit 4 (value 16) set, or the decoder does not use this table."};
}

std::vector<std::string> missing_lines(const JobResult& result) {
  std::vector<std::string> lines;
  lines.reserve(result.unprotected.size());
  for (const std::string& missing : result.unprotected) {
    lines.push_back(fmt::format("Protection missing: {}.", missing));
  }
  return lines;
}

std::vector<std::string> simulated_lines(const JobResult& result) {
  if (!result.seed) return {};
  return {fmt::format("Simulated railway, seed {}: no engine has moved.", *result.seed)};
}

}  // namespace lapwright
