#include "daemon/report_text.h"

#include <spdlog/fmt/fmt.h>

#include <set>

#include "daemon/step_results.h"
#include "daemon/text_block.h"
#include "daemon/wording.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

std::string rule(std::string_view mark) {
  std::string line;
  for (int i = 0; i < text_columns; ++i) line += mark;
  return line + '\n';
}

std::string heading(const std::string& railway, const EngineRecord& record) {
  const std::string address = fmt::format("{} address {}", record.long_address ? "long" : "short", record.address);
  const std::string left = title(record);
  const std::string right = fmt::format("{} 1:{:g}, {}", record.scale.name, record.scale.ratio, address);
  const int gap = std::max(2, text_columns - letters(left) - letters(right));
  return railway + '\n' + rule("═") + left + std::string(static_cast<std::size_t>(gap), ' ') + right + '\n' + rule("─");
}

std::string fact(std::string_view name, std::string_view text) { return wrapped(fmt::format("  {:<16}", name), text); }

std::string facts(const Job& job, const JobResult& result) {
  const TuneResult& tune = result.tune;
  std::string text = fact("Target sheet", fmt::format("{}, {} at {} speed steps", job.sheet.name,
                                                      scale_unit(job.sheet.unit), top_step(job.sheet.mode)));
  text += fact("Speed defined", job.speed_defined);
  text += fact("Work", fmt::format("{} of track time, {} passes ({} rejected), {} CV writes",
                                   duration_text(tune.track_s), tune.passes, tune.rejected, tune.writes));
  text += fact("Decoder", fmt::format("trims act: {}; table scaled between CV2 and CV5: {}; table in use: {}",
                                      known_word(tune.traits.trims_act), known_word(tune.traits.table_scaled),
                                      known_word(tune.traits.table_enabled)));
  return text;
}

class StepTable {
 public:
  explicit StepTable(const Job& job) : unit_(job.sheet.unit), ratio_(job.record.scale.ratio) {}

  [[nodiscard]] std::string text(const std::vector<StepResult>& steps) const {
    const bool notched = !steps.empty() && !steps.front().notch.empty();
    std::string text = fmt::format("  {:<12}{:>9}{:>8}   {:<15}{:<15}{}\n", notched ? "Step Notch" : "Step", "Target",
                                   "±", "Forward", "Reverse", "Verdict");
    text += "  " + std::string(text_columns - 4, '-') + '\n';
    for (const StepResult& step : steps) {
      text +=
          fmt::format("  {:<12}{:>9.2f}{:>8.2f}   {:<15}{:<15}{}\n", label(step), in_unit(step.target_mm_s),
                      in_unit(step.tolerance_mm_s), reading(step.forward), reading(step.reverse), word(step.verdict()));
    }
    return text;
  }

 private:
  [[nodiscard]] double in_unit(double speed_mm_s) const { return scale_speed(speed_mm_s, unit_, ratio_); }
  [[nodiscard]] static std::string label(const StepResult& step) {
    const std::string number = fmt::format("{:>4}", step.step);
    return step.notch.empty() ? number : number + "  " + step.notch;
  }
  [[nodiscard]] std::string reading(const std::optional<CellResult>& cell) const {
    if (!cell || cell->passes == 0) return "   -";
    return fmt::format("{:>6.2f} ±{:.2f}", in_unit(cell->speed_mm_s), in_unit(cell->half_width_mm_s));
  }

  SpeedUnit unit_;
  double ratio_;
};

std::string one_cv(int number, std::uint8_t value) {
  return fmt::format("{:<14}", fmt::format("CV{} = {}", number, value));
}

/// The table by columns of seven, as one reads it off while typing.
std::string cv_table(const std::map<int, std::uint8_t>& cvs) {
  std::string text = "  ";
  int in_line = 0;
  for (const auto& [number, value] : cvs) {
    if (number >= cv::table_entry(1) && number <= cv::table_entry(cv::table_entries)) continue;
    if (in_line == 5) text += "\n  ";
    if (in_line == 5) in_line = 0;
    text += one_cv(number, value);
    ++in_line;
  }
  text += "\n\n";
  constexpr int rows = 7;
  for (int row = 0; row < rows; ++row) {
    std::string line = "  ";
    for (int entry = 1 + row; entry <= cv::table_entries; entry += rows) {
      const auto found = cvs.find(cv::table_entry(entry));
      line += found == cvs.end() ? std::string(14, ' ') : one_cv(found->first, found->second);
    }
    if (line.find('=') != std::string::npos) text += line + '\n';
  }
  return text;
}

std::string trimmed(const std::string& text) {
  std::string result;
  for (const char letter : text) {
    if (letter == '\n') result.erase(result.find_last_not_of(' ') + 1);
    result += letter;
  }
  return result;
}

std::string reasons(const std::vector<StepResult>& steps) {
  std::set<Shortfall> seen;
  std::string text;
  for (const StepResult& step : steps) {
    const Shortfall shortfall = step.shortfall();
    if (shortfall == Shortfall::none || !seen.insert(shortfall).second) continue;
    std::string at;
    for (const StepResult& other : steps) {
      if (other.shortfall() == shortfall) at += (at.empty() ? "" : ", ") + std::to_string(other.step);
    }
    text += wrapped("  - ", fmt::format("{} {}: {}.", at.find(',') == std::string::npos ? "Step" : "Steps", at,
                                        sentence(shortfall)));
  }
  return text;
}

std::string remarks(const Job& job, const JobResult& result, const std::vector<StepResult>& steps) {
  std::string text = reasons(steps);
  for (const auto& [number, value] : result.owed) {
    text +=
        wrapped("  - ", fmt::format("Owed: CV{} = {}. It was changed for the work; write it by hand.", number, value));
  }
  for (const Direction direction : {Direction::forward, Direction::reverse}) {
    const std::optional<bool>& starts = result.tune.starts[index(direction)];
    if (starts.value_or(true)) continue;
    text +=
        wrapped("  - ", fmt::format("The lowest step in {} keeps the engine moving but does not start it from rest: "
                                    "use a kick start (CV65), or start at a higher step.",
                                    direction == Direction::forward ? "forward" : "reverse"));
  }
  for (const std::string& trouble : result.troubles) text += wrapped("  - ", trouble + ".");
  for (const std::string& remark : result.tune.remarks) text += wrapped("  - ", remark + ".");
  if (!job.record.notes.empty()) text += wrapped("  - ", "The record notes: " + job.record.notes);
  return text;
}

std::string cautions(const JobResult& result) {
  std::string text = wrapped("  - ", "± is half the width of the 95 % interval, the gates' positions included.");
  text += wrapped("  - ", "CV29 must have bit 4 (value 16) set, or the decoder does not use this table.");
  for (const std::string& missing : result.unprotected) text += wrapped("  - ", "Protection missing: " + missing + ".");
  if (result.seed)
    text += wrapped("  - ", fmt::format("Simulated railway, seed {}: no engine has moved.", *result.seed));
  return text;
}

}  // namespace

std::string report_text(const std::string& railway, const Job& job, const JobResult& result) {
  const std::vector<StepResult> steps = by_step(result.tune.cells, job.sheet);
  std::string text = heading(railway, job.record);
  text += '\n' + wrapped("", outcome_sentence(result, count(steps))) + '\n' + facts(job, result);
  if (!steps.empty())
    text += fmt::format("\nSpeeds in {}\n\n", scale_unit(job.sheet.unit)) + StepTable(job).text(steps);
  if (!result.cvs.empty()) text += "\nCVs as the decoder holds them now\n\n" + cv_table(result.cvs);
  const std::string notes = remarks(job, result, steps);
  if (!notes.empty()) text += "\nRemarks\n\n" + notes;
  text += "\nCautions\n\n" + cautions(result);
  return trimmed(text);
}

}  // namespace lapwright
