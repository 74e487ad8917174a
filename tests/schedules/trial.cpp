#include "tests/schedules/trial.h"

#include <algorithm>
#include <memory>

#include "daemon/wording.h"
#include "tests/schedules/stage.h"

namespace lapwright::schedules {
namespace {

constexpr std::array momentum = {
    cv::acceleration, cv::deceleration, cv::consist_address, cv::acceleration_adjustment, cv::deceleration_adjustment,
    cv::kick_start};

std::string number_of(const char* what, int cv) { return std::string(what) + " CV" + std::to_string(cv); }

/// The rails: dead in time, dead at the end, live once at most.
void judge_rails(const Stage& stage, Outcome& outcome) {
  const std::vector<Rails> live = live_times(stage.feed.changes(), stage.now_s());
  if (live.size() > 1) outcome.complaints.push_back("the track became live again in the same job");
  for (const Rails& rails : live) {
    for (const Demand& demand : demands(stage.happened, rails)) {
      outcome.demands.push_back(demand);
      if (demand.met()) continue;
      outcome.complaints.push_back("the track was dead " + std::to_string(demand.took_s) + " s after " +
                                   name_of(demand.kind) + " at " + std::to_string(demand.at_s) + " s; the bound is " +
                                   std::to_string(demand.bound_s) + " s");
    }
  }
  const bool ends_live = !live.empty() && live.back().dead_s > *stage.ended_s;
  if (ends_live && !nobody_can_cut(stage.happened)) {
    outcome.complaints.push_back("the track is live at the end of the job");
  }
}

/// What was lent is back, or owed with its original value.
void judge_debts(Stage& stage, Outcome& outcome) {
  const simulated::Decoder first(stage.schedule.engine.addressed_decoder());
  const std::map<int, std::uint8_t>& owed = stage.result->owed;
  for (const auto& [cv, value] : owed) {
    if (value != first.cv(cv)) outcome.complaints.push_back(number_of("a wrong original is owed to", cv));
  }
  const bool dead = stage.result->stop && action(stage.result->stop->reason) == StopAction::dead;
  const bool capped = stage.schedule.writes_per_cv < GuardLimits().writes_per_cv;
  const double way_out_s = in_seconds(*stage.asked.halted - Instant{});
  if (!owed.empty() && !dead && !capped && writes_arrive(stage.happened, way_out_s)) {
    outcome.complaints.push_back("what was lent was not put back, though nothing was in the way");
  }
  for (const int cv : momentum) {
    if (stage.railway.decoder().cv(cv) == first.cv(cv) || owed.contains(cv)) continue;
    if (stage.asked.lost_writes.contains(cv)) continue;
    outcome.complaints.push_back(number_of("neither put back nor owed:", cv));
  }
}

void judge_writes(const Stage& stage, Outcome& outcome) {
  for (const auto& [cv, count] : stage.asked.writes) {
    if (!stage.limits.cvs.contains(cv)) outcome.complaints.push_back(number_of("was written and may not be:", cv));
    if (count > stage.limits.writes_per_cv) {
      outcome.complaints.push_back(number_of(("written " + std::to_string(count) + " times:").c_str(), cv));
    }
  }
}

/// What the job told while it ran stands in its result.
void judge_findings(const Stage& stage, Outcome& outcome) {
  const TuneResult& tune = stage.result->tune;
  if (tune.passes < stage.notebook.passes()) {
    outcome.complaints.push_back(std::to_string(stage.notebook.passes()) + " passes were told, " +
                                 std::to_string(tune.passes) + " stand in the result");
  }
  for (const auto& [place, told] : stage.notebook.cells()) {
    const int step = place.first;
    const Direction direction = place.second;
    const auto is_it = [&](const CellResult& cell) { return cell.step == step && cell.direction == direction; };
    const auto found = std::find_if(tune.cells.begin(), tune.cells.end(), is_it);
    if (found != tune.cells.end() && found->verdict == told.verdict) continue;
    outcome.complaints.push_back("the verdict of step " + std::to_string(step) + " was told as " +
                                 std::to_string(static_cast<int>(told.verdict)) + " and is not so in the result");
  }
}

std::string text_of(const std::exception_ptr& failure) {
  try {
    std::rethrow_exception(failure);
  } catch (const std::exception& fault) {
    return fault.what();
  }
}

std::string reason(const JobResult& result) {
  if (result.stop) return std::string(code(result.stop->reason));
  if (result.broken_off) return "stopped in order";
  return "tune's end " + std::string(code(result.tune.end));
}

}  // namespace

Outcome carried_out(const Schedule& schedule) {
  Outcome outcome;
  auto stage = std::make_unique<Stage>(schedule);
  const bool finished = stage->play();
  if (!finished || !stage->result) {
    outcome.complaints.push_back("the job did not end in time");
    static_cast<void>(stage.release());  // what still runs refers to it; the test has failed
    return outcome;
  }
  if (!nobody_can_cut(stage->happened)) outcome.complaints = stage->watcher.complaints();
  const JobResult& result = *stage->result;
  outcome.ended_by = reason(result);
  outcome.phase = stage->notebook.phase();
  outcome.passes = stage->notebook.passes();
  outcome.settled = static_cast<int>(stage->notebook.cells().size());
  outcome.job_s = *stage->ended_s;
  judge_rails(*stage, outcome);
  judge_writes(*stage, outcome);
  if (schedule.has(Kind::host_killed) != nullptr) return outcome;  // there is nobody left to tell anything
  if (result.fault)
    outcome.complaints.push_back("a fault of the program itself ended the job: " + text_of(result.fault));
  if (schedule.has(Kind::decoder_reset) == nullptr) judge_debts(*stage, outcome);
  judge_findings(*stage, outcome);
  return outcome;
}

}  // namespace lapwright::schedules
