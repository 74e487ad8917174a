#include "daemon/pages/engine_cvs.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/pages/cv_names.h"
#include "daemon/pages/markup.h"
#include "daemon/pages/page_frame.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

constexpr std::string_view after_work = "work";
constexpr std::string_view by_record = "record";
constexpr std::string_view by_address = "address";

struct CvEntry {
  std::optional<std::uint8_t> value;  ///< empty: not known
  std::string_view source;
};

bool is_table_entry(int number) { return number >= cv::table_entry(1) && number <= cv::table_entry(cv::table_entries); }

std::map<int, std::uint8_t> address_cvs(const EngineRecord& record) {
  if (!record.long_address) return {{cv::address, static_cast<std::uint8_t>(record.address)}};
  const LongAddressCvs both = long_address_cvs(record.address);
  return {{17, both.cv17}, {18, both.cv18}};
}

/// The first that knows a CV is believed: the work, the record, the address that the engine answers to.
std::map<int, CvEntry> all_entries(const Job& job, const JobResult& result) {
  std::map<int, CvEntry> entries;
  for (const auto& [number, value] : result.cvs) entries.try_emplace(number, CvEntry{value, after_work});
  for (const auto& [number, value] : result.owed) entries.try_emplace(number, CvEntry{std::nullopt, after_work});
  for (const auto& [number, value] : job.record.cvs) entries.try_emplace(number, CvEntry{value, by_record});
  for (const auto& [number, value] : address_cvs(job.record)) entries.try_emplace(number, CvEntry{value, by_address});
  return entries;
}

std::map<int, std::uint8_t> values_of(const std::map<int, CvEntry>& entries) {
  std::map<int, std::uint8_t> values;
  for (const auto& [number, entry] : entries) {
    if (entry.value) values.emplace(number, *entry.value);
  }
  return values;
}

std::string meaning_markup(int number, const CvEntry& entry, const std::map<int, std::uint8_t>& values, int steps) {
  if (!entry.value) return "not known";
  const std::vector<std::string> bits = configuration_bits(*entry.value);
  if (number != cv::configuration || bits.empty()) {
    return in_markup(cv_meaning(number, *entry.value, values, steps));
  }
  std::string markup;
  for (const std::string& bit : bits) markup += fmt::format("{}{}", markup.empty() ? "" : "<br/>", in_markup(bit));
  return markup;
}

std::string owed_markup(int number, const std::map<int, std::uint8_t>& owed) {
  const auto found = owed.find(number);
  if (found == owed.end()) return "";
  return fmt::format(" <span class=\"short\">Owed: {}, write it by hand.</span>", found->second);
}

std::string cv_rows(const Job& job, const JobResult& result, const std::map<int, CvEntry>& entries) {
  const std::map<int, std::uint8_t> values = values_of(entries);
  std::string rows;
  for (const auto& [number, entry] : entries) {
    if (is_table_entry(number)) continue;
    rows +=
        fmt::format("<tr><td class=\"cv\">CV{}</td><td class=\"n\">{}</td><td>{}</td><td>{}{}</td><td>{}</td></tr>\n",
                    number, entry.value ? std::to_string(*entry.value) : "?", in_markup(cv_name(number)),
                    meaning_markup(number, entry, values, top_step(job.sheet.mode)), owed_markup(number, result.owed),
                    in_markup(entry.source));
  }
  return rows;
}

/// By columns of seven, as one reads it off while typing.
std::string speed_table(const std::map<int, std::uint8_t>& values) {
  constexpr int rows = 7;
  constexpr int columns = cv::table_entries / rows;
  std::string text = "<table class=\"wide tight\">\n<thead><tr>";
  for (int column = 0; column < columns; ++column) {
    const std::string_view gap = column == 0 ? "" : " class=\"gap\"";
    text +=
        fmt::format("<th{}>CV</th><th class=\"n\">Step</th><th class=\"n\">Value</th><th class=\"n\">Drive</th>", gap);
  }
  text += "</tr></thead>\n<tbody>\n";
  for (int row = 0; row < rows; ++row) {
    text += "<tr>";
    for (int entry = 1 + row; entry <= cv::table_entries; entry += rows) {
      const auto found = values.find(cv::table_entry(entry));
      const bool known = found != values.end();
      text += fmt::format(
          "<td class=\"cv{}\">CV{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td><td class=\"n\">{}</td>",
          entry > rows ? " gap" : "", cv::table_entry(entry), entry, known ? std::to_string(found->second) : "?",
          known ? fmt::format("{:.1f} %", found->second / 2.55) : "");
    }
    text += "</tr>\n";
  }
  return text + "</tbody>\n</table>\n";
}

std::string momentum_row(std::string_view what, int rate_cv, int adjustment_cv, int speed_steps,
                         const std::map<int, std::uint8_t>& values) {
  const auto rate = values.find(rate_cv);
  const auto adjustment = values.find(adjustment_cv);
  const std::string adjusted = adjustment == values.end()
                                   ? "not known, taken as 0"
                                   : in_markup(cv_meaning(adjustment_cv, adjustment->second, {}, 28));
  if (rate == values.end()) {
    return fmt::format("<tr><td>{}</td><td class=\"n\">CV{} not known</td><td>{}</td><td></td><td></td></tr>\n", what,
                       rate_cv, adjusted);
  }
  const int effective = effective_rate(rate->second, adjustment == values.end() ? 0 : adjustment->second);
  const double step_s = momentum_s_per_step(effective, speed_steps);
  return fmt::format(
      "<tr><td>{}</td><td class=\"n\">CV{} = {}</td><td>{}</td><td class=\"n\">{:.3f} s</td><td class=\"n\">{:.1f} "
      "s</td></tr>\n",
      what, rate_cv, rate->second, adjusted, step_s, step_s * speed_steps);
}

}  // namespace

std::string momentum_section(const Job& job, const JobResult& result) {
  const std::map<int, std::uint8_t> values = values_of(all_entries(job, result));
  const int steps = top_step(job.sheet.mode);
  std::string body =
      "<table>\n<thead><tr><th></th><th class=\"n\">Rate</th><th>Adjustment</th><th class=\"n\">A step</th>"
      "<th class=\"n\">All steps</th></tr></thead>\n<tbody>\n";
  body += momentum_row("Gathering speed", cv::acceleration, cv::acceleration_adjustment, steps, values);
  body += momentum_row("Losing speed", cv::deceleration, cv::deceleration_adjustment, steps, values);
  body += "</tbody>\n</table>\n";
  body += fmt::format(
      "<p class=\"note\">By the standard's formula: rate × 0.896 s, divided by {} speed steps. It was not "
      "measured.</p>\n",
      steps);
  for (const int number : {cv::acceleration, cv::deceleration}) {
    const auto owed = result.owed.find(number);
    if (owed == result.owed.end()) continue;
    body += fmt::format("<p class=\"short\">CV{} is to be {} again: write it by hand.</p>\n", number, owed->second);
  }
  return page_section("Momentum", body);
}

std::string cv_section(const Job& job, const JobResult& result) {
  const std::map<int, CvEntry> entries = all_entries(job, result);
  std::string body = fmt::format(
      "<div class=\"scroll\"><table class=\"wide\">\n<thead><tr><th>CV</th><th class=\"n\">Value</th><th>Name</th>"
      "<th>Meaning</th><th>From</th></tr></thead>\n<tbody>\n{}</tbody>\n</table></div>\n",
      cv_rows(job, result, entries));
  body +=
      "<h3>Speed table</h3>\n<p class=\"note\">CV67 to CV94: one drive level for each of 28 speed steps, 0 for no "
      "voltage, 255 for full voltage.</p>\n";
  body += fmt::format("<div class=\"scroll\">{}</div>\n", speed_table(values_of(entries)));
  body +=
      "<p class=\"note\">From: this work, the owner's record, or the address in it. Names and meanings by NMRA "
      "S-9.2.2 and RCN-225. CV29 must have bit 4 (value 16) set, or the decoder does not use this table. What does not "
      "stand here is not known to Lapwright.</p>\n";
  return page_section("CVs", body);
}

}  // namespace lapwright
