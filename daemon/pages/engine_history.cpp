#include "daemon/pages/engine_history.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <array>
#include <map>

#include "daemon/pages/markup.h"
#include "daemon/pages/page_frame.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

/// The newest first.
std::string work_rows(const std::vector<EarlierTune>& history) {
  std::string rows;
  std::for_each(history.rbegin(), history.rend(), [&rows](const EarlierTune& each) {
    rows += fmt::format("<tr><td class=\"cv\">{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n", in_markup(each.date),
                        in_markup(each.work), in_markup(each.outcome), in_markup(each.conditions));
  });
  return rows;
}

class DriftTable {
 public:
  explicit DriftTable(const Job& job) : unit_(job.sheet.unit), ratio_(job.record.scale.ratio) {}

  [[nodiscard]] std::string markup(const std::vector<StepDrift>& drifts) const {
    std::map<int, std::array<const StepDrift*, 2>> steps;
    for (const StepDrift& drift : drifts) steps[drift.step][index(drift.direction)] = &drift;
    std::string text =
        "<div class=\"scroll\"><table class=\"wide\">\n<thead><tr><th class=\"n\">Step</th>"
        "<th class=\"n\">Forward then</th><th class=\"n\">now</th><th class=\"n\">change</th>"
        "<th class=\"n gap\">Reverse then</th><th class=\"n\">now</th><th class=\"n\">change</th>"
        "<th class=\"n gap\">Tolerance</th></tr></thead>\n<tbody>\n";
    for (const auto& [step, both] : steps) {
      const StepDrift* some = both[0] != nullptr ? both[0] : both[1];
      text += fmt::format("<tr><td class=\"n\">{}</td>{}{}<td class=\"n gap\">{:.2f}</td></tr>\n", step,
                          cells(both[0], ""), cells(both[1], " gap"), in_unit(some->tolerance_mm_s));
    }
    return text + "</tbody>\n</table></div>\n";
  }

 private:
  [[nodiscard]] double in_unit(double speed_mm_s) const { return scale_speed(speed_mm_s, unit_, ratio_); }

  [[nodiscard]] std::string cells(const StepDrift* drift, std::string_view gap) const {
    if (drift == nullptr) return fmt::format("<td class=\"n{}\">–</td><td class=\"n\">–</td><td></td>", gap);
    return fmt::format("<td class=\"n{}\">{:.2f}</td><td class=\"n\">{:.2f}</td><td class=\"n{}\">{:+.2f}</td>", gap,
                       in_unit(drift->then_mm_s), in_unit(drift->now_mm_s), drift->beyond_tolerance() ? " short" : "",
                       in_unit(drift->change_mm_s()));
  }

  SpeedUnit unit_;
  double ratio_;
};

}  // namespace

std::string history_section(const Job& job, const std::vector<StepResult>& now,
                            const std::vector<EarlierTune>& history) {
  if (history.empty()) return page_section("History", "<p>No earlier work on this engine is known.</p>\n");
  std::string body = fmt::format(
      "<div class=\"scroll\"><table class=\"wide\">\n<thead><tr><th>Date</th><th>Work</th><th>Outcome</th>"
      "<th>Conditions</th></tr></thead>\n<tbody>\n{}</tbody>\n</table></div>\n",
      work_rows(history));
  if (const EarlierTune* earlier = last_measured(history)) {
    const std::vector<StepDrift> drifts = drift_since(*earlier, now);
    body += fmt::format("<h3>Drift since {} ({})</h3>\n<p>{}</p>\n", in_markup(earlier->date), in_markup(earlier->work),
                        in_markup(drift_sentence(drifts, job.sheet.unit, job.record.scale.ratio)));
    if (!drifts.empty()) {
      body += DriftTable(job).markup(drifts);
      body += "<p class=\"note\">Bold: changed by more than the step's tolerance.</p>\n";
    }
  }
  return page_section("History", body);
}

}  // namespace lapwright
