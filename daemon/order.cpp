#include "daemon/order.h"

#include <algorithm>
#include <map>
#include <set>
#include <stdexcept>

#include "drivers/settings/errors.h"
#include "drivers/settings/sheet_file.h"

namespace lapwright {
namespace {

constexpr double buffer_margin_mm = 40;  // a shuttle's engine is not to come closer to a buffer

std::vector<StepAim> aims_of(const TargetSheet& sheet, double ratio) {
  std::vector<StepAim> aims;
  for (const StepTarget& target : expand(sheet)) {
    aims.push_back({target.step, model_mm_s(target.speed, sheet.unit, ratio),
                    model_mm_s(target.tolerance, sheet.unit, ratio), target.prove});
  }
  return aims;
}

/// Clear track on both sides of the trap, whichever way the engine faces.
void set_clear_track(const EngineRecord& record, TuneOrder& order) {
  if (order.track.shape == TrackShape::loop) return;
  if (!record.length_mm) {
    throw std::invalid_argument("on a shuttle the engine's length must be known; add \"length_mm\" to its record");
  }
  const double kept_mm = *record.length_mm + buffer_margin_mm;
  const auto at_mm = [&](int gate) { return order.track.gates[static_cast<std::size_t>(gate)].position_mm; };
  order.clear_below_mm = at_mm(order.trap.low_gate) - clear_from_mm(order.track) - kept_mm;
  order.clear_above_mm = clear_to_mm(order.track) - at_mm(order.trap.high_gate) - kept_mm;
  if (std::min(order.clear_below_mm, order.clear_above_mm) > 0) return;
  throw std::invalid_argument(
      "the shuttle has too little track outside the trap for an engine of this length; "
      "choose gates nearer to its middle");
}

void check_engine_is_there(const EngineRecord& record, const Configuration& configuration) {
  if (configuration.wires) return;  // only the track itself can tell
  const SimulatedSetup& rig = configuration.rig;
  const auto answers = [&](const simulated::EngineDescription& engine) { return engine.address == record.address; };
  if (std::any_of(rig.engines.begin(), rig.engines.end(), answers)) return;
  throw std::invalid_argument("no engine of the simulated railway answers to address " +
                              std::to_string(record.address) +
                              "; correct the record, or add the engine to /rig/engines");
}

}  // namespace

Job make_job(const EngineRecord& record, const TargetSheet& sheet, const Configuration& configuration) {
  check_engine_is_there(record, configuration);
  Job job;
  job.record = record;
  job.sheet = sheet;
  TuneOrder& order = job.order;
  order.mode = sheet.mode;
  order.aims = aims_of(sheet, record.scale.ratio);
  order.track = configuration.track;
  order.trap = choose_trap(order.track, sheet.over, configuration.trap);
  set_clear_track(record, order);
  order.traits = record.traits;
  order.known_cvs = record.cvs;
  order.confidence = configuration.confidence;
  order.patience = configuration.patience;
  order.budget_s = configuration.engine_budget_s;
  job.speed_defined = describe(order.track, order.trap);
  return job;
}

Job load_job(const ShiftEntry& entry, const Configuration& configuration) {
  try {
    Job job = make_job(load_record(entry.record), settings::load_sheet(entry.sheet), configuration);
    job.work = entry.work;
    job.files = entry;
    job.place = staging_place(configuration.staging, entry.record, job.order);
    return job;
  } catch (const std::invalid_argument& misfit) {
    throw settings::Errors({entry.record.string() + " with " + entry.sheet.string() + ": " + misfit.what()});
  }
}

std::vector<Job> plan_shift(const Configuration& configuration) {
  std::vector<Job> jobs;
  std::vector<std::string> mistakes;
  std::set<std::pair<std::string, Work>> turns;
  std::map<std::string, std::string> stems;  // of their files
  for (const ShiftEntry& entry : configuration.shift) {
    try {
      jobs.push_back(load_job(entry, configuration));
      const EngineRecord& record = jobs.back().record;
      if (const auto [other, fresh] = stems.emplace(file_stem(record), title(record));
          !fresh && other->second != title(record)) {
        throw std::invalid_argument(title(record) + " and " + other->second + " would both be reported in \"" +
                                    other->first + ".json\"; give one of them another name or road number");
      }
      if (!turns.emplace(title(record), entry.work).second) {
        throw std::invalid_argument(title(record) +
                                    " stands twice in the shift with the same work: the second tune would undo the "
                                    "first; leave one of them out");
      }
    } catch (const settings::Errors& errors) {
      mistakes.insert(mistakes.end(), errors.lines().begin(), errors.lines().end());
    } catch (const std::invalid_argument& misfit) {
      mistakes.push_back(entry.record.string() + " with " + entry.sheet.string() + ": " + misfit.what());
    }
  }
  if (!mistakes.empty()) throw settings::Errors(std::move(mistakes));
  return jobs;
}

}  // namespace lapwright
