#include "daemon/pages/engine_page.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>

#include "daemon/pages/engine_cvs.h"
#include "daemon/pages/engine_history.h"
#include "daemon/pages/markup.h"
#include "daemon/pages/page_frame.h"
#include "daemon/pages/speed_chart.h"
#include "daemon/report_lines.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

std::string page_head(const std::string& railway, const Job& job, const std::string& at) {
  const EngineRecord& record = job.record;
  const std::string plate = record.road_number.empty() ? std::to_string(record.address) : record.road_number;
  std::string identity = identity_line(record);
  if (record.length_mm) identity += fmt::format(", {:g} mm over couplers", *record.length_mm);
  return fmt::format(
      "<header>\n<div><p class=\"railway\">{}</p>\n<h1>{}</h1>\n<p class=\"identity\">{}{}</p></div>\n"
      "<p class=\"plate\">{}</p>\n</header>\n",
      in_markup(railway), in_markup(title(record)), in_markup(identity), at.empty() ? "" : "<br/>" + in_markup(at),
      in_markup(plate));
}

/// Before anything else that can be read: what has to be done, and what did not watch over this engine.
std::string warnings(const JobResult& result) {
  std::vector<std::string> lines = to_do_lines(result);
  for (const std::string& line : missing_lines(result)) lines.push_back(line);
  const bool alert = needs_person(result) || !lines.empty();
  lines.emplace_back(no_emergency_stop);
  for (const std::string& line : simulated_lines(result)) lines.push_back(line);
  return fmt::format("<aside class=\"{}\" aria-label=\"Cautions\">\n<h2>{}</h2>\n{}</aside>\n",
                     alert ? "alert" : "calm", needs_person(result) ? "This engine needs a person" : "Cautions",
                     page_list(lines));
}

class SpeedSection {
 public:
  SpeedSection(const Job& job, const std::vector<StepResult>& steps)
      : job_(job), steps_(steps), unit_(job.sheet.unit), ratio_(job.record.scale.ratio) {}

  [[nodiscard]] std::string markup() const {
    if (steps_.empty()) return "";
    std::string body = fmt::format("<figure>\n{}<figcaption>{}</figcaption>\n</figure>\n", speed_chart(chart()),
                                   in_markup(reading_lines(job_).front()));
    const auto has_notch = [](const StepResult& step) { return !step.notch.empty(); };
    const bool some = std::any_of(steps_.begin(), steps_.end(), has_notch);
    const bool all = std::all_of(steps_.begin(), steps_.end(), has_notch);
    if (some) body += table("Notches", true);
    if (!all) body += table("Speed steps", false);
    const std::vector<std::string> reasons = reason_lines(steps_);
    if (!reasons.empty()) body += "<h3>Why steps are not proved</h3>\n" + page_list(reasons);
    return page_section(fmt::format("Speeds in {}", scale_unit(unit_)), body);
  }

 private:
  [[nodiscard]] double in_unit(double speed_mm_s) const { return scale_speed(speed_mm_s, unit_, ratio_); }

  [[nodiscard]] std::optional<ChartReading> reading(const std::optional<CellResult>& cell) const {
    if (!cell || cell->passes == 0) return std::nullopt;
    return ChartReading{in_unit(cell->speed_mm_s), in_unit(cell->half_width_mm_s)};
  }

  [[nodiscard]] SpeedChart chart() const {
    SpeedChart chart;
    chart.title = fmt::format("Target and measured speeds of {}", title(job_.record));
    chart.unit = scale_unit(unit_);
    chart.top_step = top_step(job_.sheet.mode);
    chart.points.reserve(steps_.size());
    for (const StepResult& step : steps_) {
      chart.points.push_back({step.step, step.notch, in_unit(step.target_mm_s), in_unit(step.tolerance_mm_s),
                              reading(step.forward), reading(step.reverse), step.verdict()});
    }
    return chart;
  }

  /// @param notches  only the steps that the throttle has a name for, with that name first
  [[nodiscard]] std::string table(std::string_view name, bool notches) const {
    std::string text = fmt::format(
        "<h3>{}</h3>\n<div class=\"scroll\"><table class=\"wide\">\n<thead><tr>{}<th class=\"n\">Step</th>"
        "<th class=\"n v\">Target</th><th></th><th class=\"n v\">Forward</th><th></th><th class=\"n "
        "v\">Reverse</th><th></th>"
        "<th class=\"n\">Passes</th><th>Verdict</th></tr></thead>\n"
        "<tbody>\n",
        name, notches ? "<th>Notch</th>" : "");
    for (const StepResult& step : steps_) {
      if (notches && step.notch.empty()) continue;
      const int passes = (step.forward ? step.forward->passes : 0) + (step.reverse ? step.reverse->passes : 0);
      text += fmt::format(
          "<tr>{}<td class=\"n\">{}</td><td class=\"n v\">{:.2f}</td><td class=\"pm\">±{:.2f}</td>{}{}<td "
          "class=\"n\">{}</td>"
          "<td{}>{}</td></tr>\n",
          notches ? fmt::format("<td class=\"cv\">{}</td>", in_markup(step.notch)) : "", step.step,
          in_unit(step.target_mm_s), in_unit(step.tolerance_mm_s), reading_cells(step.forward),
          reading_cells(step.reverse), passes, step.verdict() == Verdict::proved ? "" : " class=\"short\"",
          word(step.verdict()));
    }
    return text + "</tbody>\n</table></div>\n";
  }

  [[nodiscard]] std::string reading_cells(const std::optional<CellResult>& cell) const {
    const std::optional<ChartReading> read = reading(cell);
    if (!read) return "<td class=\"n v\">–</td><td></td>";
    return fmt::format("<td class=\"n v\">{:.2f}</td><td class=\"pm\">±{:.2f}</td>", read->speed, read->half_width);
  }

  const Job& job_;
  const std::vector<StepResult>& steps_;
  SpeedUnit unit_;
  double ratio_;
};

std::string remark_section(const Job& job, const JobResult& result) {
  std::vector<std::string> lines = start_lines(result);
  for (const std::string& line : note_lines(job, result)) lines.push_back(line);
  return lines.empty() ? "" : page_section("Remarks", page_list(lines));
}

}  // namespace

std::string engine_page(const std::string& railway, const Job& job, const JobResult& result,
                        const std::vector<EarlierTune>& history, const std::string& at) {
  const std::vector<StepResult> steps = by_step(result.tune.cells, job.sheet);
  std::string body = page_head(railway, job, at);
  body += fmt::format("<p class=\"outcome\">{}</p>\n", in_markup(outcome_sentence(result, count(steps))));
  body += warnings(result);
  body += page_facts(fact_lines(job, result));
  body += SpeedSection(job, steps).markup();
  body += momentum_section(job, result);
  body += cv_section(job, result);
  body += history_section(job, steps, history);
  body += remark_section(job, result);
  return framed_page(fmt::format("{} – {}", title(job.record), railway), body);
}

}  // namespace lapwright
