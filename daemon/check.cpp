#include "daemon/check.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <cmath>

#include "tuning/cv.h"

namespace lapwright {
namespace {

constexpr std::size_t spread_of = 4;
constexpr double unknown_momentum_s = 10;
constexpr double s_per_cv = 0.896;          // NMRA S-9.2.2, CV3 and CV4
constexpr double asymmetry_grown = 0.03;    // share of speed
constexpr double scatter_grown = 2;         // times
constexpr double scatter_grown_by = 0.005;  // share of speed
constexpr double current_grown = 1.3;       // times
constexpr double current_grown_by_mA = 15;
constexpr double ample_room = 0.5;  // of tolerance, for one pass to prove a step
constexpr double least_room = 0.1;
constexpr double turn_s = 1.2;

double momentum_s(const Job& job, const CvLedger& ledger, int number) {
  const auto stated = job.record.cvs.find(number);
  std::optional<std::uint8_t> held = ledger.known(number);
  if (!held && stated != job.record.cvs.end()) held = stated->second;
  return held ? *held * s_per_cv : unknown_momentum_s;
}

std::optional<double> speed_then(const EarlierTune& tuned, const CellResult& cell) {
  const auto step = tuned.speeds.find(cell.step);
  if (step == tuned.speeds.end()) return std::nullopt;
  return cell.direction == Direction::forward ? step->second.forward_mm_s : step->second.reverse_mm_s;
}

/// Out of tolerance, and not as its tune left it.
bool has_drifted(const CellResult& cell, const std::optional<EarlierTune>& tuned) {
  if (cell.verdict != Verdict::failed || cell.as_before) return false;
  const std::optional<double> then = tuned ? speed_then(*tuned, cell) : std::nullopt;
  if (!then) return true;
  const bool was_in = std::abs(*then - cell.target_mm_s) <= cell.tolerance_mm_s;
  return was_in || std::abs(cell.speed_mm_s - *then) > cell.tolerance_mm_s;
}

/// By how much of their speed the directions differ, on average over steps that tell both.
struct Asymmetry {
  double now = 0;
  double then = 0;
  int steps = 0;
};

Asymmetry asymmetry(const std::vector<CellResult>& cells, const EarlierTune& tuned) {
  Asymmetry sum;
  for (const CellResult& forward : cells) {
    if (forward.direction != Direction::forward || forward.passes == 0) continue;
    for (const CellResult& reverse : cells) {
      if (reverse.step != forward.step || reverse.direction != Direction::reverse || reverse.passes == 0) continue;
      const std::optional<double> forward_then = speed_then(tuned, forward);
      const std::optional<double> reverse_then = speed_then(tuned, reverse);
      if (!forward_then || !reverse_then) continue;
      sum.now += (forward.speed_mm_s - reverse.speed_mm_s) / forward.target_mm_s;
      sum.then += (*forward_then - *reverse_then) / forward.target_mm_s;
      ++sum.steps;
    }
  }
  if (sum.steps == 0) return sum;
  return {sum.now / sum.steps, sum.then / sum.steps, sum.steps};
}

/// What points at the engine rather than at its table.
std::vector<std::string> signs_of_wear(const TuneResult& now, const EarlierTune& tuned) {
  std::vector<std::string> signs;
  const Asymmetry directions = asymmetry(now.cells, tuned);
  if (directions.steps > 0 && std::abs(directions.now) > std::abs(directions.then) + asymmetry_grown) {
    signs.push_back(fmt::format("forward and reverse differ by {:.1f} % of their speed, and by {:.1f} % at its tune",
                                100 * std::abs(directions.now), 100 * std::abs(directions.then)));
  }
  const bool both = tuned.scales && now.scales;
  if (both && now.scales->repeatability > scatter_grown * tuned.scales->repeatability + scatter_grown_by) {
    signs.push_back(fmt::format("its passes scatter by {:.1f} %, and by {:.1f} % at its tune",
                                100 * now.scales->repeatability, 100 * tuned.scales->repeatability));
  }
  if (tuned.top_current_mA && now.top_current_mA &&
      *now.top_current_mA > current_grown * *tuned.top_current_mA + current_grown_by_mA) {
    signs.push_back(
        fmt::format("it draws up to {:.0f} mA, and {:.0f} mA at its tune", *now.top_current_mA, *tuned.top_current_mA));
  }
  return signs;
}

std::string named(const std::vector<const CellResult*>& cells) {
  std::vector<std::string> names;
  names.reserve(cells.size());
  for (const CellResult* cell : cells) {
    names.push_back(fmt::format("step {} {} by {:+.1f} %", cell->step,
                                cell->direction == Direction::forward ? "forward" : "in reverse",
                                100 * (cell->speed_mm_s / cell->target_mm_s - 1)));
  }
  return fmt::format("{}", fmt::join(names, ", "));
}

bool was_proved(const EarlierTune& tuned, int step) {
  const auto speeds = tuned.speeds.find(step);
  return speeds != tuned.speeds.end() && speeds->second.proved;
}

/// How far its tune had left the step from its target, in tolerances; the worse direction. 0: nothing is known.
double share_off(const StepAim& aim, const std::optional<EarlierTune>& tuned) {
  if (!tuned || !tuned->speeds.contains(aim.step)) return 0;
  const StepSpeeds& speeds = tuned->speeds.at(aim.step);
  const auto off = [&](const std::optional<double>& speed_mm_s) {
    return std::abs(speed_mm_s.value_or(aim.speed_mm_s) - aim.speed_mm_s) / aim.tolerance_mm_s;
  };
  return std::max(off(speeds.forward_mm_s), off(speeds.reverse_mm_s));
}

/// What its proof will take, about: one pass in each direction where there is room, several near the tolerance's edge.
double proof_s(const StepAim& aim, const Trap& trap, const std::optional<EarlierTune>& tuned) {
  const double room = std::max(1 - share_off(aim, tuned), least_room);
  const double passes = std::max(ample_room * ample_room / (room * room), 1.0);
  return passes * (trap.base_mm / aim.speed_mm_s + turn_s);
}

/// Every step that is to be proved.
InspectionOrder all_steps(const Job& job) {
  const TuneOrder& order = job.order;
  InspectionOrder result;
  result.mode = order.mode;
  result.top_mm_s = order.aims.back().speed_mm_s;
  result.top_tolerance_mm_s = order.aims.back().tolerance_mm_s;
  result.track = order.track;
  result.trap = order.trap;
  result.clear_below_mm = order.clear_below_mm;
  result.clear_above_mm = order.clear_above_mm;
  result.confidence = order.confidence;
  result.budget_s = order.budget_s;
  for (const StepAim& aim : order.aims) {
    if (aim.prove) result.steps.push_back(aim);
  }
  return result;
}

}  // namespace

InspectionOrder proof_order(const Job& job, const std::optional<EarlierTune>& tuned) {
  InspectionOrder result = all_steps(job);
  std::vector<StepAim> proved;
  for (const StepAim& aim : result.steps) {
    if (tuned && was_proved(*tuned, aim.step)) proved.push_back(aim);
  }
  if (proved.size() >= spread_of) result.steps = std::move(proved);
  for (const StepAim& aim : result.steps) {
    if (tuned && !was_proved(*tuned, aim.step)) result.as_before_counts.insert(aim.step);
  }
  if (result.steps.size() <= spread_of) return result;
  std::vector<StepAim> chosen;
  for (std::size_t quarter = 0; quarter < spread_of; ++quarter) {
    const auto place = [&](double quarters) {
      return result.steps.begin() +
             static_cast<std::ptrdiff_t>(quarters * static_cast<double>(result.steps.size()) / spread_of);
    };
    const auto end = place(static_cast<double>(quarter + 1));
    const auto begin = place(static_cast<double>(quarter));
    const auto cheaper = [&](const StepAim& a, const StepAim& b) {
      return proof_s(a, result.trap, tuned) < proof_s(b, result.trap, tuned);
    };
    // From above: of equals, the fastest.
    chosen.push_back(*std::min_element(std::make_reverse_iterator(end), std::make_reverse_iterator(begin), cheaper));
  }
  result.steps = std::move(chosen);
  return result;
}

InspectionOrder check_order(const Job& job, const CvLedger& ledger, bool all) {
  InspectionOrder result = all_steps(job);
  result.momentum = {momentum_s(job, ledger, cv::acceleration), momentum_s(job, ledger, cv::deceleration)};
  std::erase_if(result.steps, [&](const StepAim& aim) { return !has_room(result, aim); });
  if (all || result.steps.size() <= spread_of) return result;
  std::vector<StepAim> spread;
  for (std::size_t i = 0; i < spread_of; ++i) {
    spread.push_back(result.steps[i * (result.steps.size() - 1) / (spread_of - 1)]);
  }
  result.steps = std::move(spread);
  return result;
}

std::string left_out_for_room(const Job& job, const InspectionOrder& order) {
  std::vector<int> steps;
  for (const StepAim& aim : all_steps(job).steps) {
    if (!has_room(order, aim)) steps.push_back(aim.step);
  }
  if (steps.empty()) return {};
  return fmt::format(
      "steps from {} on were left out: with the momentum in CV3 and CV4 the shuttle is too short for them",
      steps.front());
}

std::string_view word(Condition condition) {
  switch (condition) {
    case Condition::as_tuned:
      return "as tuned";
    case Condition::not_certain:
      return "can't be told";
    case Condition::drifted:
      return "drifted";
    case Condition::worn:
      return "trouble suspected";
  }
  return "";
}

CheckFinding judge_check(const TuneResult& now, const std::optional<EarlierTune>& tuned) {
  std::vector<const CellResult*> off;
  std::vector<const CellResult*> open;
  for (const CellResult& cell : now.cells) {
    if (has_drifted(cell, tuned)) off.push_back(&cell);
    const bool told = cell.verdict != Verdict::marginal || cell.as_before;
    if (cell.passes == 0 || !told) open.push_back(&cell);
  }
  const std::vector<std::string> signs = tuned ? signs_of_wear(now, *tuned) : std::vector<std::string>{};
  std::string drift;
  if (!off.empty()) drift = fmt::format("Out of tolerance: {}. ", named(off));
  if (!signs.empty()) {
    return {Condition::worn, fmt::format("Mechanical trouble is suspected: {}. {}Look at wheels, pick-ups, rods and "
                                         "gears before it is tuned anew.",
                                         fmt::join(signs, "; "), drift)};
  }
  if (!off.empty()) return {Condition::drifted, "Drifted. " + drift + "Tune it anew."};
  if (!open.empty()) {
    return {Condition::not_certain,
            fmt::format("{} of {} readings can't tell whether they lie in tolerance; nothing says that it has drifted.",
                        open.size(), now.cells.size())};
  }
  return {Condition::as_tuned,
          fmt::format("As tuned: {} readings over {} steps agree.", now.cells.size(), now.cells.size() / 2)};
}

}  // namespace lapwright
