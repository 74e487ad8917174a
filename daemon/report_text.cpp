#include "daemon/report_text.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/report_lines.h"
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
  const std::string left = title(record);
  const std::string right = identity_line(record);
  const int gap = std::max(2, text_columns - letters(left) - letters(right));
  return railway + '\n' + rule("═") + left + std::string(static_cast<std::size_t>(gap), ' ') + right + '\n' + rule("─");
}

std::string facts(const Job& job, const JobResult& result) {
  std::string text;
  for (const auto& [name, said] : fact_lines(job, result)) text += wrapped(fmt::format("  {:<16}", name), said);
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

std::string items(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& each : lines) text += wrapped("  - ", each);
  return text;
}

std::string remarks(const Job& job, const JobResult& result, const std::vector<StepResult>& steps) {
  return items(reason_lines(steps)) + items(debt_lines(result)) + items(start_lines(result)) +
         items(trouble_lines(result)) + items(note_lines(job, result));
}

std::string cautions(const Job& job, const JobResult& result) {
  return items(reading_lines(job)) + items(missing_lines(result)) + items(simulated_lines(result));
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
  text += "\nCautions\n\n" + cautions(job, result);
  return trimmed(text);
}

}  // namespace lapwright
