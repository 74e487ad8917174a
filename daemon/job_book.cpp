#include "daemon/job_book.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>

#include "daemon/store/heard_record.h"
#include "daemon/wording.h"

namespace lapwright {

std::string mark_of(const Job& job) {
  const TuneOrder& order = job.order;
  std::string text = fmt::format("{}|{}|{}|{}|{}|{}|", code(job.work), title(job.record), job.record.address,
                                 job.record.long_address, job.sheet.name, top_step(order.mode));
  text += fmt::format("{}|{}|{}|{}|{}|", order.trap.low_gate, order.trap.high_gate, order.trap.base_mm,
                      order.track.length_mm, static_cast<int>(order.track.shape));
  text += fmt::format("{}|{}|{}|", order.confidence, order.patience, order.trap.base_error_mm);
  for (const StepAim& aim : order.aims) {
    text += fmt::format("{}:{}:{}:{};", aim.step, aim.speed_mm_s, aim.tolerance_mm_s, aim.prove);
  }
  return fmt::format("{:08x}", crc32c(text));
}

TuneOrder JobBook::order_from_here(const TuneOrder& order) const {
  TuneOrder result = order;
  result.before = story_.heard;
  if (story_.last_at > 0) result.away_s = std::max(static_cast<double>(calendar_.now() - story_.last_at), 0.0);
  return result;
}

CvMemory JobBook::memory_from_here() const {
  CvMemory memory = story_.cvs;
  memory.found.clear();
  memory.written.clear();
  memory.unconfirmed.clear();
  return memory;
}

ShownSpeeds JobBook::shown_mm_s() const {
  ShownSpeeds shown;
  ShownSpeeds latest;
  for (const Heard& each : story_.heard) {
    const auto* const pass = std::get_if<Passed>(&each.what);
    if (pass == nullptr || pass->reading.trouble != PassTrouble::none) continue;
    double& before = latest[{pass->step, pass->direction}];
    shown[{pass->step, pass->direction}] = std::max(before, pass->reading.speed_mm_s);
    before = pass->reading.speed_mm_s;
  }
  return shown;
}

void JobBook::note(const Record& record) {
  story_.follow(record, calendar_.now());
  journal_.note(record);
}

void JobBook::runs() {
  if (!story_.ran) note({{"kind", "runs"}});
}

void JobBook::heard(const Heard& what) { note(heard_record(what)); }

void JobBook::settled(const CellResult& cell) {
  const auto told = story_.told.find({cell.step, cell.direction});
  if (told != story_.told.end() && told->second == code(cell.verdict)) return;
  note({{"kind", "verdict"},
        {"step", cell.step},
        {"direction", code(cell.direction)},
        {"verdict", code(cell.verdict)},
        {"target_mm_s", cell.target_mm_s},
        {"tolerance_mm_s", cell.tolerance_mm_s},
        {"speed_mm_s", cell.speed_mm_s},
        {"half_width_mm_s", cell.half_width_mm_s},
        {"passes", cell.passes}});
}

void JobBook::withdrawn(const CellResult& cell) {
  if (!story_.told.contains({cell.step, cell.direction})) return;
  note({{"kind", "withdrawn"}, {"step", cell.step}, {"direction", code(cell.direction)}});
}

void JobBook::recalled(const std::map<std::pair<int, Direction>, CellResult>& cells) {
  for (const auto& [name, cell] : cells) settled(cell);
  const auto told = story_.told;
  for (const auto& [name, verdict] : told) {
    CellResult gone;
    gone.step = name.first;
    gone.direction = name.second;
    if (!cells.contains(name)) withdrawn(gone);
  }
}

void JobBook::stopped(const Stop& why) {
  Record record = {{"kind", "stop"}, {"code", code(why.reason)}, {"sentence", why.sentence}};
  for (const auto& [name, value] : why.evidence) record["evidence"][name] = value;
  note(record);
}

void JobBook::found(int cv, std::uint8_t value) { note({{"kind", "found"}, {"cv", cv}, {"value", value}}); }

void JobBook::owed(int cv, std::uint8_t original) { note({{"kind", "owed"}, {"cv", cv}, {"value", original}}); }

void JobBook::sending(int cv, std::uint8_t value) { note({{"kind", "sending"}, {"cv", cv}, {"value", value}}); }

void JobBook::sending_bit(int cv, int bit, bool value) {
  note({{"kind", "sending_bit"}, {"cv", cv}, {"bit", bit}, {"value", value}});
}

void JobBook::sent(int cv, std::uint8_t value, CvWriteReply reply) {
  note({{"kind", "sent"}, {"cv", cv}, {"value", value}, {"reply", code(reply)}});
}

void JobBook::paid(int cv) { note({{"kind", "paid"}, {"cv", cv}}); }

}  // namespace lapwright
