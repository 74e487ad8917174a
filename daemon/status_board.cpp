#include "daemon/status_board.h"

#include <cmath>

#include "daemon/wording.h"

namespace lapwright {

StatusBoard::StatusBoard(std::string railway) : railway_(std::move(railway)) {}

void StatusBoard::tell(const Json& event) {
  // A name from a file may hold bytes that are no UTF-8: better a mark than an exception in the middle of the work.
  if (listener_) listener_(event.dump(-1, ' ', false, Json::error_handler_t::replace));
}

void StatusBoard::set_state(const std::string& state, const std::string& why) {
  state_ = state;
  why_ = why;
  tell({{"event", "state"}, {"state", state}, {"why", why}});
}

std::string StatusBoard::status_line() const {
  Json status = {{"railway", railway_}, {"state", state_}, {"why", why_}, {"engine", engine_}, {"done", done_}};
  return status.dump(-1, ' ', false, Json::error_handler_t::replace);
}

void StatusBoard::engine_begins(const Job& job, int number, int of) {
  job_ = &job;
  steps_.clear();
  engine_ = {{"title", title(job.record)},
             {"number", number},
             {"of", of},
             {"sheet", job.sheet.name},
             {"phase", ""},
             {"verdicts", 0},
             {"wanted", 0},
             {"passes", 0}};
  tell({{"event", "engine_begins"},
        {"title", engine_["title"]},
        {"number", number},
        {"of", of},
        {"sheet", job.sheet.name}});
}

void StatusBoard::engine_ends(const Job& job, const JobResult& result) {
  const VerdictCounts counts = count(by_step(result.tune.cells, job.sheet));
  Json entry = {{"title", title(job.record)},
                {"outcome", outcome_word(result, counts)},
                {"sentence", outcome_sentence(result, counts)},
                {"proved", counts.proved},
                {"steps", counts.steps},
                {"needs_person", needs_person(result)}};
  Json owed = Json::object();
  for (const auto& [number, value] : result.owed) owed["CV" + std::to_string(number)] = value;
  entry["owed"] = std::move(owed);
  done_.push_back(entry);
  engine_ = nullptr;
  job_ = nullptr;
  entry["event"] = "engine_ends";
  tell(entry);
}

void StatusBoard::phase(const std::string& what) {
  if (job_ == nullptr) return;
  engine_["phase"] = what;
  tell({{"event", "phase"}, {"phase", what}});
}

void StatusBoard::pass(int step, Direction direction, double speed_mm_s) {
  if (job_ == nullptr) return;
  engine_["passes"] = engine_["passes"].get<int>() + 1;
  const double speed = scale_speed(speed_mm_s, job_->sheet.unit, job_->record.scale.ratio);
  tell({{"event", "pass"},
        {"step", step},
        {"direction", direction == Direction::forward ? "forward" : "reverse"},
        {"speed", std::round(speed * 1000) / 1000},
        {"unit", scale_unit(job_->sheet.unit)}});
}

void StatusBoard::settled(const CellResult& cell) {
  if (job_ == nullptr) return;
  const auto step = steps_.settled(cell, job_->sheet);
  if (!step) return;
  tell({{"event", "step"},
        {"step", step->step},
        {"verdict", code(step->verdict())},
        {"line", step_line(*step, job_->sheet.unit, job_->record.scale.ratio, "±")}});
}

void StatusBoard::progress(int settled_cells, int all_cells) {
  if (job_ == nullptr) return;
  engine_["verdicts"] = settled_cells;
  engine_["wanted"] = all_cells;
}

}  // namespace lapwright
