#include "daemon/log_observer.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/wording.h"

namespace lapwright {

void LogObserver::engine_begins(const Job& job, int number, int of) {
  job_ = &job;
  steps_.clear();
  log_->info("engine {} of {}: {}, sheet \"{}\", {}", number, of, title(job.record), job.sheet.name, job.speed_defined);
}

void LogObserver::engine_ends(const Job& job, const JobResult& result) {
  job_ = nullptr;
  const VerdictCounts counts = count(by_step(result.tune.cells, job.sheet));
  const auto level = needs_person(result) ? spdlog::level::warn : spdlog::level::info;
  log_->log(level, "{}: {}", title(job.record), outcome_sentence(result, counts));
  for (const auto& [number, value] : result.owed) log_->error("{}: owed: CV{} = {}", title(job.record), number, value);
  for (const std::string& trouble : result.troubles) log_->error("{}: {}", title(job.record), trouble);
}

void LogObserver::not_begun(const std::string& engine, const std::string& why) {
  log_->error("{} is left out: {}", engine, why);
}

void LogObserver::stopped(const Stop& why) {
  std::string known;
  for (const auto& [name, value] : why.evidence)
    known += fmt::format("{}{}: {}", known.empty() ? "" : "; ", name, value);
  const auto level = latches(why.reason) ? spdlog::level::err : spdlog::level::warn;
  log_->log(level, "stopped ({}): {} [{}]", code(why.reason), why.sentence, known);
}

void LogObserver::waits(const std::string& why) { log_->info("{}", why.empty() ? "the shift goes on" : why); }

void LogObserver::recalls(bool still) {
  recalls_ = still;
  log_->info("{}", still ? "recalling what was measured before it was broken off" : "going on from there");
}

void LogObserver::phase(const std::string& what) {
  if (!recalls_) log_->info("{}", what);
}

void LogObserver::pass(int step, Direction direction, double speed_mm_s) {
  if (recalls_) return;
  log_->debug("pass: step {} {} {:.2f} mm/s", step, direction == Direction::forward ? "forward" : "reverse",
              speed_mm_s);
}

void LogObserver::settled(const CellResult& cell) {
  if (job_ == nullptr) return;
  const auto step = steps_.settled(cell, job_->sheet);
  if (step && !recalls_) log_->info("{}", step_line(*step, job_->sheet.unit, job_->record.scale.ratio, "±"));
}

}  // namespace lapwright
