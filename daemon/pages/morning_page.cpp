#include "daemon/pages/morning_page.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <vector>

#include "daemon/pages/markup.h"
#include "daemon/pages/page_frame.h"
#include "daemon/report_files.h"
#include "daemon/report_lines.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

constexpr std::string_view go_on = "when all is well, go on with: lapwright clear";

/// A job with what came of it.
struct SeenThrough {
  const Job* job;
  const JobResult* result;
  VerdictCounts counts;
};

std::string page_link(const std::string& stem, const std::string& engine) {
  return fmt::format("<a href=\"{}.html\">{}</a>", stem, in_markup(engine));
}

std::string page_link(const Job& job) { return page_link(file_stem(job.record), title(job.record)); }

/// A dead track first, since it keeps everything else waiting; then what a decoder is owed.
int urgency(const SeenThrough& seen) {
  if (rig_is_lost(*seen.result)) return 0;
  return seen.result->owed.empty() ? 2 : 1;
}

class MorningSheet {
 public:
  explicit MorningSheet(const Morning& morning) : morning_(morning) {
    for (const MorningJob& turn : morning.turns) {
      if (turn.result != nullptr) {
        seen_.push_back({turn.job, turn.result, count(by_step(turn.result->tune.cells, turn.job->sheet))});
        if (needs_person(*turn.result)) waiting_.push_back(seen_.back());
      } else if (!turn.earlier) {
        left_.push_back(&turn);
      }
    }
    std::stable_sort(waiting_.begin(), waiting_.end(),
                     [](const SeenThrough& a, const SeenThrough& b) { return urgency(a) < urgency(b); });
    if (morning.over || left_.empty()) return;
    at_work_ = left_.front();
    left_.erase(left_.begin());
  }

  [[nodiscard]] std::string markup() const { return sheet_head() + people() + unbegun() + engines() + protections(); }

 private:
  [[nodiscard]] std::string sheet_head() const {
    std::string text =
        fmt::format("<header>\n<div><p class=\"railway\">{}</p>\n<h1>{}</h1>\n{}</div>\n</header>\n",
                    in_markup(morning_.railway), morning_.over ? "The shift" : "The shift, still at work",
                    morning_.at.empty() ? "" : fmt::format("<p class=\"identity\">{}</p>", in_markup(morning_.at)));
    return text + fmt::format("<p class=\"outcome\">{}</p>\n", summary());
  }

  [[nodiscard]] std::string summary() const {
    double track_s = 0;
    int passes = 0;
    for (const SeenThrough& each : seen_) {
      track_s += each.result->tune.track_s;
      passes += each.result->tune.passes;
    }
    const std::size_t all = morning_.turns.size();
    const std::size_t turned = all - left_.size() - (at_work_ != nullptr ? 1 : 0);
    std::string text = fmt::format("{} {}: {} worked on", all, all == 1 ? "engine" : "engines", turned);
    const std::size_t calling = waiting_.size() + earlier_calls().size();
    if (calling > 0) text += fmt::format(", {} of them {} a person", calling, calling == 1 ? "needs" : "need");
    if (at_work_ != nullptr) text += ", one at work";
    if (!left_.empty()) text += fmt::format(", {} {}", left_.size(), morning_.over ? "not begun" : "to come");
    return text + fmt::format(". {} of track time, {} passes.", duration_text(track_s), passes);
  }

  /// Of those that were seen through before this run of the service.
  [[nodiscard]] std::vector<const MorningJob*> earlier_calls() const {
    std::vector<const MorningJob*> turns;
    for (const MorningJob& turn : morning_.turns) {
      if (turn.result == nullptr && turn.earlier.value_or(false)) turns.push_back(&turn);
    }
    return turns;
  }

  [[nodiscard]] std::string people() const {
    const bool stuck = !morning_.trouble.empty();
    const std::vector<const MorningJob*> earlier = earlier_calls();
    if (waiting_.empty() && earlier.empty() && !stuck) {
      return morning_.over && left_.empty() ? "<p>Nothing needs a person.</p>\n" : "";
    }
    std::string body;
    if (stuck) body += page_list({fmt::format("{}; {}.", morning_.trouble, go_on)});
    for (const SeenThrough& each : waiting_) {
      body += fmt::format("<h3>{}</h3>\n<p>{}</p>\n", page_link(*each.job),
                          in_markup(outcome_sentence(*each.result, each.counts)));
      const std::vector<std::string> lines = to_do_lines(*each.result);
      if (!lines.empty()) body += page_list(lines);
    }
    for (const MorningJob* turn : earlier) {
      body += fmt::format("<h3>{}</h3>\n<p>Its page tells why.</p>\n", page_link(turn->stem, turn->engine));
    }
    return fmt::format("<section class=\"alert\">\n<h2>What needs a person</h2>\n{}</section>\n", body);
  }

  [[nodiscard]] std::string unbegun() const {
    if (left_.empty()) return "";
    std::vector<std::string> names;
    names.reserve(left_.size());
    for (const MorningJob* turn : left_) names.push_back(turn->engine);
    return page_section(morning_.over ? "Not begun" : "Still to come",
                        fmt::format("<p>{}</p>\n{}", in_markup(why_left()), page_list(names)));
  }

  [[nodiscard]] std::string why_left() const {
    if (!morning_.over) return "In this order, when it is their turn:";
    if (!morning_.trouble.empty()) return fmt::format("The next engine could not be taken: {}.", morning_.trouble);
    if (!seen_.empty() && rig_is_lost(*seen_.back().result)) {
      return fmt::format("The track is dead since {} was stopped, and nothing begins before a person has cleared that.",
                         title(seen_.back().job->record));
    }
    return "The shift was ended before it was their turn.";
  }

  [[nodiscard]] std::string engines() const {
    std::string rows;
    auto seen = seen_.begin();
    for (const MorningJob& turn : morning_.turns) {
      if (turn.result != nullptr) {
        rows += seen_row(*seen++);
      } else if (turn.earlier) {
        rows += earlier_row(turn);
      } else {
        rows += bare_row(turn, &turn == at_work_ ? "at work on it" : "not begun");
      }
    }
    return page_section(
        "Every engine",
        fmt::format(
            "<div class=\"scroll\"><table class=\"wide\">\n<thead><tr><th>Engine</th><th>Target sheet</th>"
            "<th>Outcome</th><th class=\"n\">Proved</th><th class=\"n\">Track time</th><th class=\"n\">Passes</th>"
            "</tr></thead>\n<tbody>\n{}</tbody>\n</table></div>\n",
            rows));
  }

  /// What the steps that are not proved came to; empty where all are.
  static std::string shortfalls(const VerdictCounts& counts) {
    std::vector<std::string> parts;
    const auto add = [&](int steps, Verdict verdict) {
      if (steps > 0) parts.push_back(fmt::format("{} {}", steps, word(verdict)));
    };
    add(counts.best_attainable, Verdict::best_attainable);
    add(counts.marginal, Verdict::marginal);
    add(counts.failed, Verdict::failed);
    add(counts.not_measured, Verdict::not_measured);
    return parts.empty() ? "" : fmt::format("<br/><span class=\"note\">{}</span>", fmt::join(parts, ", "));
  }

  static std::string seen_row(const SeenThrough& seen) {
    const TuneResult& tune = seen.result->tune;
    const bool good = !needs_person(*seen.result) && seen.counts.proved == seen.counts.steps;
    return fmt::format(
        "<tr><td class=\"cv\">{}</td><td>{}</td><td><span{}>{}</span>{}</td><td class=\"n\">{} of {}</td>"
        "<td class=\"n\">{}</td><td class=\"n\">{}</td></tr>\n",
        page_link(*seen.job), in_markup(seen.job->sheet.name), good ? "" : " class=\"short\"",
        in_markup(outcome_word(*seen.result, seen.counts)), shortfalls(seen.counts), seen.counts.proved,
        seen.counts.steps, duration_text(tune.track_s), tune.passes);
  }

  static std::string earlier_row(const MorningJob& turn) {
    return fmt::format(
        "<tr><td class=\"cv\">{}</td><td>{}</td><td colspan=\"4\">seen through before the shift went on; its page "
        "tells</td>"
        "</tr>\n",
        page_link(turn.stem, turn.engine), in_markup(turn.sheet));
  }

  static std::string bare_row(const MorningJob& turn, std::string_view said) {
    return fmt::format("<tr><td class=\"cv\">{}</td><td>{}</td><td colspan=\"4\">{}</td></tr>\n",
                       in_markup(turn.engine), in_markup(turn.sheet), said);
  }

  /// What was missing for any engine, once.
  [[nodiscard]] std::string protections() const {
    std::vector<std::string> lines;
    for (const SeenThrough& each : seen_) {
      for (const auto& some : {missing_lines(*each.result), simulated_lines(*each.result)}) {
        for (const std::string& line : some) {
          if (std::find(lines.begin(), lines.end(), line) == lines.end()) lines.push_back(line);
        }
      }
    }
    lines.emplace_back(no_emergency_stop);
    return page_section("Cautions", page_list(lines));
  }

  const Morning& morning_;
  std::vector<SeenThrough> seen_;
  std::vector<SeenThrough> waiting_;     // for a person, the most urgent first
  std::vector<const MorningJob*> left_;  // that have not begun
  const MorningJob* at_work_ = nullptr;
};

}  // namespace

std::string morning_page(const Morning& morning) {
  return framed_page(fmt::format("The shift – {}", morning.railway), MorningSheet(morning).markup());
}

}  // namespace lapwright
