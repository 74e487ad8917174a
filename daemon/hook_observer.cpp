#include "daemon/hook_observer.h"

#include <nlohmann/json.hpp>
#include <utility>

#include "daemon/report_files.h"
#include "daemon/wording.h"

namespace lapwright {

HookObserver::HookObserver(Hooks& hooks, std::string railway, const std::filesystem::path& reports,
                           const Calendar& calendar)
    : hooks_(hooks),
      railway_(std::move(railway)),
      reports_(std::filesystem::absolute(reports).lexically_normal()),  // hooks may work in another folder
      calendar_(calendar) {}

nlohmann::json HookObserver::event(const char* name) const {
  return {{"event", name}, {"railway", railway_}, {"at", time_text(calendar_.now())}};
}

void HookObserver::engine_begins(const Job& job, int /*number*/, int /*of*/) { engine_ = title(job.record); }

void HookObserver::engine_ends(const Job& job, const JobResult& result) {
  if (!is_through(result) && !rig_is_lost(result)) return;
  if (result.stop && result.stop->reason == StopReason::hours_over) return;
  const VerdictCounts counts = count(by_step(result.tune.cells, job.sheet));
  nlohmann::json told = event("engine");
  told["title"] = title(job.record);
  told["sheet"] = job.sheet.name;
  told["work"] = code(result.work);
  told["outcome"] = outcome_word(result, counts);
  told["sentence"] = outcome_sentence(result, counts);
  told["proved"] = counts.proved;
  told["steps"] = counts.steps;
  told["needs_person"] = needs_person(result);
  told["reports"] = nlohmann::json::array();
  for (const std::string& name : report_names(job, result)) told["reports"].push_back((reports_ / name).string());
  hooks_.finished(told);
}

void HookObserver::stopped(const Stop& why) {
  if (!latches(why.reason)) return;
  nlohmann::json told = event("trip");
  told["title"] = engine_;
  told["code"] = code(why.reason);
  told["sentence"] = why.sentence;
  told["evidence"] = nlohmann::json::object();
  for (const auto& [name, value] : why.evidence) told["evidence"][name] = value;
  hooks_.tripped(told);
}

void HookObserver::shift_ends(const ShiftResult& result, const QueueStory& queue) {
  nlohmann::json told = event("shift");
  told["through"] = queue.waiting.empty();
  told["needs_person"] = result.needs_person;
  told["trouble"] = result.trouble;
  told["reports"] = nlohmann::json::array({(reports_ / morning_page_name).string()});
  hooks_.finished(told);
}

}  // namespace lapwright
