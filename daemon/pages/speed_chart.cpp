#include "daemon/pages/speed_chart.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>

#include "daemon/pages/chart_axis.h"
#include "daemon/pages/markup.h"
#include "daemon/text_block.h"
#include "daemon/wording.h"

namespace lapwright {
namespace {

// Places on the drawing, in its own units: about the CSS pixels of a page as wide as A4 between its margins.
constexpr double chart_width = 720;
constexpr double left_edge = 52;
constexpr double right_edge = 708;
constexpr double speed_top = 26;
constexpr double speed_bottom = 286;
constexpr double error_top = 326;
constexpr double error_bottom = 466;
constexpr double row_height = 17;
constexpr double letter_width = 6.5;
constexpr int speed_ticks = 6;
constexpr int error_ticks = 4;
constexpr double widest_error = 3.2;  // tolerances that the lower panel shows: more would flatten the band

constexpr std::string_view chart_style = R"(
.speed-chart{--chart-ink:#1c1b18;--chart-soft:#5d5a52;--chart-hair:#dedace;--chart-band:#d8e0d0;--chart-edge:#8fa07f;
--chart-forward:#174a73;--chart-reverse:#a3420f;--chart-paper:#fdfcf8}
@media (prefers-color-scheme:dark){.speed-chart{--chart-ink:#e6e3da;--chart-soft:#a39f94;--chart-hair:#31312d;
--chart-band:#2b3528;--chart-edge:#5f7355;--chart-forward:#8cc4f0;--chart-reverse:#f0a26c;--chart-paper:#161715}}
@media print{.speed-chart{--chart-ink:#000;--chart-soft:#333;--chart-hair:#ddd;--chart-band:#dcdcdc;--chart-edge:#999;
--chart-forward:#000;--chart-reverse:#000;--chart-paper:#fff}}
.speed-chart{font:12px ui-sans-serif,system-ui,sans-serif;font-variant-numeric:tabular-nums}
.speed-chart text{fill:var(--chart-soft)}
.speed-chart text.named{fill:var(--chart-ink)}
.speed-chart text.letter{fill:var(--chart-ink);font-weight:700}
.speed-chart .grid{stroke:var(--chart-hair);stroke-width:1}
.speed-chart .frame{stroke:var(--chart-ink);stroke-width:1}
.speed-chart .band{fill:var(--chart-band);stroke:var(--chart-edge);stroke-width:.6}
.speed-chart .target{fill:none;stroke:var(--chart-ink);stroke-width:.8}
.speed-chart .forward{fill:var(--chart-forward);stroke:var(--chart-forward)}
.speed-chart .reverse{fill:none;stroke:var(--chart-reverse)}
.speed-chart .curve{fill:none;stroke-width:1.4}
.speed-chart .reverse .curve,.speed-chart .curve.reverse{stroke-dasharray:6 3}
.speed-chart .bar{stroke-width:1.2}
.speed-chart .reverse .bar{stroke-dasharray:3 2}
.speed-chart .square{fill:var(--chart-paper);fill-opacity:0;stroke-width:1.4}
)";

struct Way {  // of running
  std::string_view name;
  std::optional<ChartReading> ChartPoint::*reading;
  double aside;  // in the lower panel, where the two would hide each other
};
constexpr std::array ways = {Way{"forward", &ChartPoint::forward, -1}, Way{"reverse", &ChartPoint::reverse, 1}};

/// A reading that can be drawn.
const ChartReading* reading_of(const ChartPoint& point, const Way& way) {
  const std::optional<ChartReading>& reading = point.*way.reading;
  return reading && std::isfinite(reading->speed) ? &*reading : nullptr;
}

double half_width_of(const ChartReading& reading) {
  return std::isfinite(reading.half_width) ? std::max(0.0, reading.half_width) : 0.0;
}

ChartAxis speed_axis(const SpeedChart& chart) {
  double top = 0;
  for (const ChartPoint& point : chart.points) {
    top = std::max(top, point.target + point.tolerance);
    for (const Way& way : ways) {
      if (const auto* reading = reading_of(point, way)) top = std::max(top, reading->speed + half_width_of(*reading));
    }
  }
  return {0, top > 0 ? top * 1.03 : 1, speed_bottom, speed_top};
}

ChartAxis error_axis(const SpeedChart& chart) {
  double tolerance = 0;
  double reach = 0;
  for (const ChartPoint& point : chart.points) {
    tolerance = std::max(tolerance, point.tolerance);
    for (const Way& way : ways) {
      const auto* reading = reading_of(point, way);
      if (reading != nullptr)
        reach = std::max(reach, std::abs(reading->speed - point.target) + half_width_of(*reading));
    }
  }
  if (tolerance <= 0) tolerance = reach > 0 ? reach : 1;
  const double shown = std::clamp(reach * 1.05, tolerance * 1.25, tolerance * widest_error);
  return {-shown, shown, error_bottom, error_top};
}

class Drawing {
 public:
  explicit Drawing(const SpeedChart& chart)
      : chart_(chart),
        steps_(0, chart.top_step + 0.5, left_edge, right_edge),
        speeds_(speed_axis(chart)),
        errors_(error_axis(chart)) {}

  std::string svg() {
    panel("Speed, ", speeds_, speed_ticks, speed_top, speed_bottom);
    speeds();
    panel("Off target, ", errors_, error_ticks, error_top, error_bottom);
    errors();
    key();
    rows();
    return fmt::format(
        "<svg class=\"speed-chart\" xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {:.0f} {:.0f}\" role=\"img\" "
        "aria-labelledby=\"chart-title chart-desc\">\n<title id=\"chart-title\">{}</title>\n"
        "<desc id=\"chart-desc\">{}</desc>\n<style>{}</style>\n{}</svg>\n",
        chart_width, y_ + 4, in_markup(chart_.title), in_markup(description()), chart_style, body_);
  }

 private:
  template <typename... Parts>
  void put(fmt::format_string<Parts...> format, Parts&&... parts) {
    body_ += fmt::format(format, std::forward<Parts>(parts)...);
    body_ += '\n';
  }

  void text(double x, double y, std::string_view anchor, std::string_view kind, std::string_view words) {
    put("<text class=\"{}\" x=\"{:.2f}\" y=\"{:.2f}\" text-anchor=\"{}\">{}</text>", kind, x, y, anchor,
        in_markup(words));
  }
  void line(std::string_view kind, double x1, double y1, double x2, double y2) {
    put("<line class=\"{}\" x1=\"{:.2f}\" y1=\"{:.2f}\" x2=\"{:.2f}\" y2=\"{:.2f}\"/>", kind, x1, y1, x2, y2);
  }

  void panel(std::string_view name, const ChartAxis& axis, int wanted, double top, double bottom) {
    text(left_edge, top - 9, "start", "named", std::string(name) + chart_.unit);
    for (const double tick : axis.ticks(wanted)) {
      line("grid", left_edge, axis.at(tick), right_edge, axis.at(tick));
      text(left_edge - 7, axis.at(tick) + 4, "end", "tick", axis.label(tick, wanted));
    }
    for (const int step : step_ticks(chart_.top_step)) line("grid", steps_.at(step), top, steps_.at(step), bottom);
    line("frame", left_edge, top, left_edge, bottom);
    line("frame", left_edge, bottom, right_edge, bottom);
  }

  /// Around `middle(point)`, a tolerance up and down; `beside` steps beyond the first and the last.
  template <typename Middle>
  void band(const ChartAxis& axis, double beside, const Middle& middle) {
    std::vector<std::pair<double, const ChartPoint*>> stations;
    stations.reserve(chart_.points.size() + 2);
    stations.emplace_back(chart_.points.front().step - beside, &chart_.points.front());
    for (const ChartPoint& point : chart_.points) stations.emplace_back(point.step, &point);
    stations.emplace_back(chart_.points.back().step + beside, &chart_.points.back());
    std::string corners;
    const auto corner = [&](double step, const ChartPoint& point, double sign) {
      const double y = axis.at(middle(point) + sign * point.tolerance);
      corners += fmt::format("{}{:.2f},{:.2f}", corners.empty() ? "" : " ", steps_.at(step), y);
    };
    for (const auto& [step, point] : stations) corner(step, *point, 1);
    std::reverse(stations.begin(), stations.end());
    for (const auto& [step, point] : stations) corner(step, *point, -1);
    put("<polygon class=\"band\" points=\"{}\"/>", corners);
  }

  template <typename Value>
  void curve(std::string_view kind, const Value& value) {
    std::string corners;
    for (const ChartPoint& point : chart_.points) {
      const std::optional<double> y = value(point);
      if (!y) continue;
      corners += fmt::format("{}{:.2f},{:.2f}", corners.empty() ? "" : " ", steps_.at(point.step), speeds_.at(*y));
    }
    if (!corners.empty()) put("<polyline class=\"{}\" points=\"{}\"/>", kind, corners);
  }

  void speeds() {
    band(speeds_, chart_.points.size() == 1 ? 0.4 : 0, [](const ChartPoint& point) { return point.target; });
    curve("target", [](const ChartPoint& point) { return std::optional(point.target); });
    for (const Way& way : ways) {
      curve(fmt::format("curve {}", way.name), [&](const ChartPoint& point) {
        const ChartReading* reading = reading_of(point, way);
        return reading != nullptr ? std::optional(reading->speed) : std::nullopt;
      });
    }
    for (const Way& way : ways) {
      for (const ChartPoint& point : chart_.points) {
        if (const auto* reading = reading_of(point, way)) mark(point, way, *reading, speeds_, "speed", 0, 0);
      }
    }
  }

  void errors() {
    band(errors_, 0.5, [](const ChartPoint&) { return 0.0; });
    line("target", left_edge, errors_.at(0), right_edge, errors_.at(0));
    const double room = (right_edge - left_edge) / (chart_.top_step + 0.5);
    const double aside = std::min(4.5, std::max(1.5, room * 0.2));
    for (const Way& way : ways) {
      for (const ChartPoint& point : chart_.points) {
        const ChartReading* reading = reading_of(point, way);
        if (reading != nullptr) mark(point, way, *reading, errors_, "error", point.target, way.aside * aside);
      }
    }
  }

  void mark(const ChartPoint& point, const Way& way, const ChartReading& reading, const ChartAxis& axis,
            std::string_view panel, double zero, double aside) {
    const double x = steps_.at(point.step) + aside;
    const double value = reading.speed - zero;
    const double half = half_width_of(reading);
    const auto inside = [&](double each) { return std::clamp(each, axis.low(), axis.high()); };
    put("<g class=\"{}\" data-panel=\"{}\" data-step=\"{}\"><title>{}</title>", way.name, panel, point.step,
        in_markup(told(point, way, reading)));
    if (inside(value - half) < inside(value + half)) {
      line("bar", x, axis.at(inside(value - half)), x, axis.at(inside(value + half)));
    }
    const double y = axis.at(inside(value));
    if (inside(value) != value) {
      const double tail = value > 0 ? 9 : -9;  // the arrow's head is at the edge
      put("<path class=\"beyond\" d=\"M{:.2f} {:.2f}l-4 {:.2f}h8z\"/>", x, y, tail);
    } else {
      shape(way, x, y);
    }
    put("</g>");
  }

  void shape(const Way& way, double x, double y) {
    if (way.name == "forward") {
      put("<circle class=\"dot\" cx=\"{:.2f}\" cy=\"{:.2f}\" r=\"2.6\"/>", x, y);
    } else {
      put("<rect class=\"square\" x=\"{:.2f}\" y=\"{:.2f}\" width=\"7.6\" height=\"7.6\"/>", x - 3.8, y - 3.8);
    }
  }

  [[nodiscard]] std::string told(const ChartPoint& point, const Way& way, const ChartReading& reading) const {
    const std::string notch = point.notch.empty() ? "" : fmt::format(", notch {}", point.notch);
    return fmt::format("step {}{}, {}: {:.2f} ±{:.2f} {}, target {:.2f} ±{:.2f}, {}", point.step, notch, way.name,
                       reading.speed, half_width_of(reading), chart_.unit, point.target, point.tolerance,
                       word(point.verdict));
  }

  [[nodiscard]] std::string description() const {
    return fmt::format(
        "{} speed steps, {:g} to {:g}, with targets from {:.2f} to {:.2f} {}. Above, measured speeds over the target "
        "and its tolerance; below, how far each is off target. Forward: filled dots, solid line. Reverse: open "
        "squares, dashed line. The table on this page holds the same values.",
        chart_.points.size(), static_cast<double>(chart_.points.front().step),
        static_cast<double>(chart_.points.back().step), chart_.points.front().target, chart_.points.back().target,
        chart_.unit);
  }

  /// In the corner above the curve's slow end, where nothing else is.
  void key() {
    const double x = left_edge + 14;
    double y = speed_top + 14;
    const double words = x + 44;
    line("target", x, y, x + 34, y);
    text(words, y + 4, "start", "named", "target");
    y += row_height;
    put("<rect class=\"band\" x=\"{:.2f}\" y=\"{:.2f}\" width=\"34\" height=\"9\"/>", x, y - 4.5);
    text(words, y + 4, "start", "named", "tolerance");
    for (const Way& way : ways) {
      y += row_height;
      put("<g class=\"key {}\">", way.name);
      line("curve", x, y, x + 34, y);
      shape(way, x + 17, y);
      put("</g>");
      text(words, y + 4, "start", "named", fmt::format("{}, with its interval", way.name));
    }
  }

  /// Below: a letter where a step is not proved, step numbers, notches, and what the letters mean.
  void rows() {
    y_ = error_bottom;
    std::map<std::string_view, Verdict> letters_used;
    for (const ChartPoint& point : chart_.points) {
      if (point.verdict != Verdict::proved) letters_used.emplace(letter(point.verdict), point.verdict);
    }
    if (!letters_used.empty()) {
      y_ += row_height;
      for (const ChartPoint& point : chart_.points) {
        if (point.verdict == Verdict::proved) continue;
        text(steps_.at(point.step), y_, "middle", "letter", letter(point.verdict));
      }
    }
    y_ += row_height;
    text(left_edge - 7, y_, "end", "named", "step");
    for (const int step : step_ticks(chart_.top_step))
      text(steps_.at(step), y_, "middle", "tick", std::to_string(step));
    notches();
    if (letters_used.empty()) return;
    y_ += row_height + 3;
    std::vector<std::string> meanings;
    meanings.reserve(letters_used.size());
    for (const auto& [mark, verdict] : letters_used) meanings.push_back(fmt::format("{}  {}", mark, word(verdict)));
    text(left_edge, y_, "start", "tick", fmt::format("Steps not proved: {}", fmt::join(meanings, ",  ")));
  }

  void notches() {
    const auto named = [](const ChartPoint& point) { return !point.notch.empty(); };
    if (std::none_of(chart_.points.begin(), chart_.points.end(), named)) return;
    y_ += row_height;
    text(left_edge - 7, y_, "end", "named", "notch");
    double free_from = left_edge;
    for (const ChartPoint& point : chart_.points) {
      const double half = letters(point.notch) * letter_width / 2;
      if (point.notch.empty() || steps_.at(point.step) - half < free_from) continue;
      text(steps_.at(point.step), y_, "middle", "tick", point.notch);
      free_from = steps_.at(point.step) + half + letter_width;
    }
  }

  static std::string_view letter(Verdict verdict) {
    switch (verdict) {
      case Verdict::proved:
        return "";
      case Verdict::best_attainable:
        return "B";
      case Verdict::marginal:
        return "M";
      case Verdict::failed:
        return "F";
      case Verdict::not_measured:
        return "N";
    }
    return "";
  }

  const SpeedChart& chart_;
  ChartAxis steps_, speeds_, errors_;
  std::string body_;
  double y_ = 0;  // of the last row
};

}  // namespace

std::string speed_chart(const SpeedChart& chart) {
  if (chart.points.empty()) return "";
  return Drawing(chart).svg();
}

}  // namespace lapwright
