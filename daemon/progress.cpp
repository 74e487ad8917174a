#include "daemon/progress.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <array>

#include "daemon/text_block.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

constexpr std::string_view clear_line = "\r\x1b[K";
constexpr std::string_view plain = "\x1b[0m";

std::string_view colour_of(Verdict verdict) {
  switch (verdict) {
    case Verdict::proved:
      return "\x1b[32m";  // green
    case Verdict::failed:
      return "\x1b[31m";  // red
    default:
      return "\x1b[33m";  // yellow
  }
}

}  // namespace

std::string Progress::coloured(std::string_view text, Verdict verdict) const {
  if (!style_.colour) return std::string(text);
  const std::string_view last = word(verdict);
  if (!text.ends_with(last)) return std::string(text);
  text.remove_suffix(last.size());
  return fmt::format("{}{}{}{}", text, colour_of(verdict), last, plain);
}

void Progress::line(const std::string& text) {
  if (bar_stands_) write_(clear_line);
  bar_stands_ = false;
  write_(text + '\n');
  redraw();
}

std::string Progress::bar(int width) const {
  const int eighths = all_ == 0 ? 0 : 8 * width * settled_ / all_;
  if (!style_.blocks) {
    const auto done = static_cast<std::size_t>(eighths / 8);
    return "[" + std::string(done, '=') + std::string(static_cast<std::size_t>(width) - done, '.') + "]";
  }
  constexpr std::array<std::string_view, 8> parts = {"", "▏", "▎", "▍", "▌", "▋", "▊", "▉"};
  std::string text = "▕";
  int drawn = eighths / 8;
  for (int i = 0; i < drawn; ++i) text += "█";
  if (eighths % 8 != 0) {
    text += parts[static_cast<std::size_t>(eighths % 8)];
    ++drawn;
  }
  return text + std::string(static_cast<std::size_t>(width - drawn), ' ') + "▏";
}

void Progress::redraw() {
  if (!style_.live || job_ == nullptr) return;
  std::string text = fmt::format("{} {} {}/{}  {}", job_->record.name, bar(24), settled_, all_, phase_);
  if (!last_pass_.empty()) text += "  " + last_pass_;
  // Never wider than the terminal: a wrapped line can't be rewritten.
  while (letters(text) >= style_.columns) {
    do {
      text.pop_back();
    } while (!text.empty() && (static_cast<unsigned char>(text.back()) & 0xC0) == 0x80);
  }
  write_(clear_line);
  write_(text);
  bar_stands_ = true;
}

void Progress::engine_begins(const Job& job, int number, int of) {
  job_ = nullptr;
  steps_.clear();
  phase_.clear();
  last_pass_.clear();
  settled_ = 0;
  all_ = 0;
  line(fmt::format(
      "{}engine {} of {}: {}, sheet \"{}\", {}", number == 1 ? "" : "\n", number, of, title(job.record), job.sheet.name,
      style_.blocks ? job.speed_defined
                    : std::string("speed ") + (job.order.trap.times_laps() ? "over a lap" : "over the trap")));
  job_ = &job;
}

void Progress::engine_ends(const Job& job, const JobResult& result) {
  if (bar_stands_) write_(clear_line);
  bar_stands_ = false;
  job_ = nullptr;
  const VerdictCounts counts = count(by_step(result.tune.cells, job.sheet));
  write_(wrapped("", fmt::format("{}: {} {} of track time, {} passes, {} CV writes.", title(job.record),
                                 outcome_sentence(result, counts), duration_text(result.tune.track_s),
                                 result.tune.passes, result.tune.writes)));
  for (const auto& [number, value] : result.owed) write_(fmt::format("owed: CV{} = {}\n", number, value));
  for (const std::string& trouble : result.troubles) write_(wrapped("trouble: ", trouble));
}

void Progress::phase(const std::string& what) {
  phase_ = what;
  if (style_.live) {
    redraw();
  } else {
    line(what);
  }
}

void Progress::pass(int step, Direction direction, double speed_mm_s) {
  if (job_ == nullptr) return;
  last_pass_ = fmt::format("step {} {} {:.2f}", step, direction == Direction::forward ? "forward" : "reverse",
                           scale_speed(speed_mm_s, job_->sheet.unit, job_->record.scale.ratio));
  redraw();
}

void Progress::settled(const CellResult& cell) {
  if (job_ == nullptr) return;
  const auto step = steps_.settled(cell, job_->sheet);
  if (!step) return;
  line(coloured(step_line(*step, job_->sheet.unit, job_->record.scale.ratio, plus_minus()), step->verdict()));
}

void Progress::progress(int settled_cells, int all_cells) {
  settled_ = settled_cells;
  all_ = all_cells;
  redraw();
}

}  // namespace lapwright
