#include "daemon/wording.h"

#include <spdlog/fmt/fmt.h>

#include <cmath>

namespace lapwright {

std::string_view word(Verdict verdict) {
  switch (verdict) {
    case Verdict::not_measured:
      return "not measured";
    case Verdict::proved:
      return "proved";
    case Verdict::best_attainable:
      return "best attainable";
    case Verdict::marginal:
      return "marginal";
    case Verdict::failed:
      return "failed";
  }
  return "unknown";
}

std::string_view code(Verdict verdict) {
  switch (verdict) {
    case Verdict::not_measured:
      return "not_measured";
    case Verdict::best_attainable:
      return "best_attainable";
    default:
      return word(verdict);
  }
}

std::string_view code(Shortfall shortfall) {
  switch (shortfall) {
    case Shortfall::none:
      return "";
    case Shortfall::resolution:
      return "resolution";
    case Shortfall::directions:
      return "directions";
    case Shortfall::floor:
      return "floor";
    case Shortfall::repeatability:
      return "repeatability";
    case Shortfall::out_of_drive:
      return "out_of_drive";
    case Shortfall::interrupted:
      return "interrupted";
  }
  return "unknown";
}

std::string_view sentence(Shortfall shortfall) {
  switch (shortfall) {
    case Shortfall::none:
      return "";
    case Shortfall::resolution:
      return "neighbouring table values lie on both sides of the target: the decoder divides its drive no finer";
    case Shortfall::directions:
      return "one table value can't serve both directions, and the trims can't bring them closer";
    case Shortfall::floor:
      return "the engine stalls at anything slower: clean wheels and track, oil the gears, or ask for more speed there";
    case Shortfall::repeatability:
      return "the engine does not repeat its speed well enough: clean wheels and track, let it run in, or allow more";
    case Shortfall::out_of_drive:
      return "full drive is too slow: raise the track voltage, or ask for less speed";
    case Shortfall::interrupted:
      return "the work ended before";
  }
  return "";
}

std::string_view code(TuneEnd end) {
  switch (end) {
    case TuneEnd::complete:
      return "complete";
    case TuneEnd::budget_spent:
      return "budget_spent";
    case TuneEnd::unknown_momentum:
      return "unknown_momentum";
    case TuneEnd::engine_not_found:
      return "engine_not_found";
    case TuneEnd::other_decoder:
      return "other_decoder";
    case TuneEnd::no_room:
      return "no_room";
    case TuneEnd::nothing_to_undo:
      return "nothing_to_undo";
    case TuneEnd::table_not_enabled:
      return "table_not_enabled";
    case TuneEnd::position_lost:
      return "position_lost";
    case TuneEnd::cv_refused:
      return "cv_refused";
    case TuneEnd::rig_fault:
      return "rig_fault";
  }
  return "unknown";
}

std::string outcome_sentence(const JobResult& result, const VerdictCounts& counts) {
  std::string text;
  if (result.stop) {
    text = "Stopped: " + result.stop->sentence + ". ";
  } else if (result.broken_off) {
    text = "Broken off on request before its end. ";
  } else if (result.tune.end != TuneEnd::complete) {
    text = "Ended early: " + result.tune.detail + ". ";
  }
  if (result.work != Work::tune) return text + result.told;
  if (counts.steps == 0) return text + "No step was measured.";
  if (counts.proved == counts.steps)
    return text + fmt::format("All {} steps are proved in both directions.", counts.steps);
  text += fmt::format("{} of {} steps are proved in both directions", counts.proved, counts.steps);
  if (counts.best_attainable > 0) {
    text += fmt::format("; {} {} as close as this decoder can come", counts.best_attainable,
                        counts.best_attainable == 1 ? "is" : "are");
  }
  if (counts.marginal > 0) text += fmt::format("; {} in tolerance but not repeatable enough to prove", counts.marginal);
  if (counts.failed > 0) text += fmt::format("; {} failed", counts.failed);
  if (counts.not_measured > 0) text += fmt::format("; {} not measured", counts.not_measured);
  return text + ".";
}

std::string outcome_word(const JobResult& result, const VerdictCounts& counts) {
  if (result.stop) return "stopped: " + std::string(code(result.stop->reason));
  if (result.broken_off) return "broken off";
  if (result.tune.end != TuneEnd::complete) {
    std::string text(code(result.tune.end));
    for (char& letter : text) letter = letter == '_' ? ' ' : letter;
    return text;
  }
  if (result.work == Work::undo) return "put back";
  if (result.work == Work::restore && result.condition == Condition::as_tuned) return "restored";
  if (result.condition) return std::string(word(*result.condition));
  if (counts.proved == counts.steps) return "proved";
  const bool attained = counts.proved + counts.best_attainable == counts.steps;
  return attained ? "best attainable" : "some steps short";
}

std::string_view scale_unit(SpeedUnit unit) { return unit == SpeedUnit::mph ? "smph" : "skm/h"; }

std::string duration_text(double time_s) {
  const long total_s = std::lround(time_s);
  if (total_s >= 3600) return fmt::format("{} h {:02} min", total_s / 3600, total_s / 60 % 60);
  if (total_s >= 60) return fmt::format("{} min {:02} s", total_s / 60, total_s % 60);
  return fmt::format("{} s", total_s);
}

std::string_view known_word(const std::optional<bool>& trait) {
  if (!trait) return "not known";
  return *trait ? "yes" : "no";
}

}  // namespace lapwright
