// Where the chart's marks stand, found from its own ticks: what a reader would measure with a ruler.
#include "daemon/pages/speed_chart.h"

#include <boost/test/unit_test.hpp>
#include <cmath>
#include <cstdlib>
#include <limits>
#include <sstream>

#include "daemon/pages/chart_axis.h"
#include "tests/unit/markup_check.h"

using namespace lapwright;
using markup::Element;

namespace {

SpeedChart three_points() {
  return {"Speeds of <Bracken> & \"Co\"",
          "smph",
          28,
          {{4, "1 & 2", 2.5, 0.1, ChartReading{2.48, 0.05}, ChartReading{2.53, 0.04}, Verdict::proved},
           {14, "", 9.0, 0.2, ChartReading{9.11, 0.06}, std::nullopt, Verdict::not_measured},
           {28, "8", 18.0, 0.36, ChartReading{17.2, 0.05}, ChartReading{17.9, 0.05}, Verdict::best_attainable}}};
}

/// The chart as read back.
struct Read {
  explicit Read(const SpeedChart& chart) : svg(speed_chart(chart)), all(markup::elements(svg)) {
    // In each panel: a horizontal line of the grid, then its tick, from below to above.
    double y = 0;
    for (const Element& each : all) {
      if (each.name == "text" && each.text.find("Off target") == 0) ++panel;
      if (each.has_class("grid") && each.number("y1") == each.number("y2")) y = each.number("y1");
      if (each.has_class("tick") && each.attribute("text-anchor") == "end") {
        ticks[panel].emplace_back(std::strtod(each.text.c_str(), nullptr), y);
      }
    }
  }
  [[nodiscard]] double y_of(double value, std::size_t in) const {
    const auto [low, low_y] = ticks[in].front();
    const auto [high, high_y] = ticks[in].back();
    return low_y + (value - low) / (high - low) * (high_y - low_y);
  }
  /// The place in the file of the group that holds the reading.
  [[nodiscard]] std::size_t group(const std::string& way, const std::string& in, int step) const {
    for (std::size_t i = 0; i < all.size(); ++i) {
      if (all[i].name == "g" && all[i].has_class(way) && all[i].attribute("data-panel") == in &&
          all[i].attribute("data-step") == std::to_string(step))
        return i;
    }
    BOOST_FAIL("no " << way << " reading of step " << step << " in the panel " << in);
    return 0;
  }
  /// The first of that name behind the group's opening tag, before the next group.
  [[nodiscard]] Element in_group(std::size_t at, const std::string& name) const {
    for (std::size_t i = at + 1; i < all.size() && all[i].name != "g"; ++i) {
      if (all[i].name == name) return all[i];
    }
    return {};
  }
  [[nodiscard]] std::vector<std::pair<double, double>> corners(const std::string& kind, std::size_t which) const {
    std::vector<Element> shapes;
    for (const Element& each : all) {
      if (each.has_class(kind) && !each.attribute("points").empty()) shapes.push_back(each);
    }
    std::istringstream in(shapes.at(which).attribute("points"));
    std::vector<std::pair<double, double>> result;
    double x = 0;
    double y = 0;
    for (char comma = 0; in >> x >> comma >> y;) result.emplace_back(x, y);
    return result;
  }

  std::string svg;
  std::vector<Element> all;
  std::size_t panel = 0;
  std::array<std::vector<std::pair<double, double>>, 2> ticks;  // value, y
};

constexpr double ruler = 0.03;  // places are written to a hundredth

/// Whether the outline has corners at that x, at both heights.
bool spans(const std::vector<std::pair<double, double>>& outline, double x, double y1, double y2) {
  const auto has = [&](double y) {
    return std::any_of(outline.begin(), outline.end(), [&](const auto& corner) {
      return std::abs(corner.first - x) < ruler && std::abs(corner.second - y) < ruler;
    });
  };
  return has(y1) && has(y2);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(chart)

BOOST_AUTO_TEST_CASE(is_whole_and_needs_nothing_from_outside) {
  const std::string svg = speed_chart(three_points());
  BOOST_TEST(markup::flaw(svg).empty(), markup::flaw(svg));
  for (const char* foreign : {"<script", "<image", "<use", "url(", "@import", "href"}) {
    BOOST_TEST(svg.find(foreign) == std::string::npos, foreign);
  }
  const std::vector<Element> all = markup::elements(svg);
  BOOST_TEST(markup::named(all, "svg").at(0).attribute("xmlns") == "http://www.w3.org/2000/svg");
  const Element title = markup::named(all, "title").at(0);
  const Element desc = markup::named(all, "desc").at(0);
  BOOST_TEST(title.text == "Speeds of <Bracken> & \"Co\"");
  BOOST_TEST(markup::named(all, "svg").at(0).attribute("aria-labelledby") ==
             title.attribute("id") + " " + desc.attribute("id"));
  BOOST_TEST(svg.find("@media (prefers-color-scheme:dark)") < svg.find("@media print"));
  BOOST_TEST(speed_chart({"nothing", "smph", 28, {}}).empty());
}

BOOST_AUTO_TEST_CASE(marks_stand_where_their_values_are) {
  const Read read(three_points());
  BOOST_REQUIRE(read.ticks[0].size() >= 4U);
  BOOST_REQUIRE(read.ticks[1].size() >= 3U);
  const auto circle = [&](const char* panel, int step) {
    return read.in_group(read.group("forward", panel, step), "circle");
  };
  BOOST_TEST(std::abs(circle("speed", 4).number("cy") - read.y_of(2.48, 0)) < ruler);
  BOOST_TEST(std::abs(circle("speed", 14).number("cy") - read.y_of(9.11, 0)) < ruler);
  BOOST_TEST(std::abs(circle("speed", 28).number("cy") - read.y_of(17.2, 0)) < ruler);
  BOOST_TEST(std::abs(circle("error", 14).number("cy") - read.y_of(0.11, 1)) < ruler);
  BOOST_TEST(std::abs(circle("error", 28).number("cy") - read.y_of(-0.8, 1)) < ruler);
  const Element square = read.in_group(read.group("reverse", "error", 4), "rect");
  BOOST_TEST(std::abs(square.number("y") + square.number("height") / 2 - read.y_of(0.03, 1)) < ruler);
  const Element bar = read.in_group(read.group("reverse", "error", 4), "line");
  BOOST_TEST(std::abs(bar.number("y1") - read.y_of(-0.01, 1)) < ruler);
  BOOST_TEST(std::abs(bar.number("y2") - read.y_of(0.07, 1)) < ruler);
  // Steps stand evenly: 14 to 28 is 14/10 of 4 to 14.
  const double first = circle("speed", 14).number("cx") - circle("speed", 4).number("cx");
  const double second = circle("speed", 28).number("cx") - circle("speed", 14).number("cx");
  BOOST_TEST(second / first == 1.4, boost::test_tools::tolerance(0.001));
}

BOOST_AUTO_TEST_CASE(band_covers_the_tolerance) {
  const SpeedChart chart = three_points();
  const Read read(chart);
  const auto target = read.corners("target", 0);
  const auto speeds = read.corners("band", 0);
  const auto errors = read.corners("band", 1);
  BOOST_REQUIRE(target.size() == chart.points.size());
  for (std::size_t i = 0; i < chart.points.size(); ++i) {
    const ChartPoint& point = chart.points[i];
    BOOST_TEST(std::abs(target[i].second - read.y_of(point.target, 0)) < ruler);
    BOOST_TEST(spans(speeds, target[i].first, read.y_of(point.target - point.tolerance, 0),
                     read.y_of(point.target + point.tolerance, 0)),
               point.step);
    BOOST_TEST(spans(errors, target[i].first, read.y_of(-point.tolerance, 1), read.y_of(point.tolerance, 1)),
               point.step);
  }
}

BOOST_AUTO_TEST_CASE(directions_differ_by_shape_and_dash) {
  const Read read(three_points());
  for (const Element& each : read.all) {
    const bool forward = each.name == "g" && each.has_class("forward") && !each.attribute("data-step").empty();
    const bool reverse = each.name == "g" && each.has_class("reverse") && !each.attribute("data-step").empty();
    const int step = std::atoi(each.attribute("data-step").c_str());
    if (forward) {
      const std::size_t at = read.group("forward", each.attribute("data-panel"), step);
      BOOST_TEST(read.in_group(at, "circle").name == "circle");
      BOOST_TEST(read.in_group(at, "rect").name.empty());
    }
    if (reverse) {
      BOOST_TEST(step != 14);  // was not measured
      const std::size_t at = read.group("reverse", each.attribute("data-panel"), step);
      BOOST_TEST(read.in_group(at, "rect").name == "rect");
      BOOST_TEST(read.in_group(at, "circle").name.empty());
    }
  }
  BOOST_TEST(read.corners("reverse", 0).size() == 2U);
  BOOST_TEST(read.corners("forward", 0).size() == 3U);
  const std::string style = markup::named(read.all, "style").at(0).text;
  BOOST_TEST(style.find(".curve.reverse{stroke-dasharray") != std::string::npos);
  BOOST_TEST(style.find(".curve.forward{stroke-dasharray") == std::string::npos);
}

BOOST_AUTO_TEST_CASE(every_mark_says_what_it_is) {
  const Read read(three_points());
  BOOST_TEST(read.in_group(read.group("forward", "speed", 4), "title").text ==
             "step 4, notch 1 & 2, forward: 2.48 ±0.05 smph, target 2.50 ±0.10, proved");
  BOOST_TEST(read.in_group(read.group("reverse", "error", 28), "title").text ==
             "step 28, notch 8, reverse: 17.90 ±0.05 smph, target 18.00 ±0.36, best attainable");
  std::string letters_below;
  for (const Element& each : markup::named(read.all, "text", "letter")) letters_below += each.text;
  BOOST_TEST(letters_below == "NB");
}

BOOST_AUTO_TEST_CASE(what_is_far_off_stands_at_the_edge_as_an_arrow) {
  SpeedChart chart = three_points();
  chart.points[0].forward->speed = 12;
  const Read read(chart);
  const Element arrow = read.in_group(read.group("forward", "error", 4), "path");
  BOOST_TEST(arrow.has_class("beyond"));
  BOOST_TEST(read.in_group(read.group("forward", "error", 4), "circle").name.empty());
  const double highest = read.y_of(0.36 * 3.2, 1);
  BOOST_TEST(std::abs(std::strtod(arrow.attribute("d").substr(arrow.attribute("d").find(' ')).c_str(), nullptr) -
                      highest) < ruler);
  BOOST_TEST(std::abs(read.in_group(read.group("forward", "speed", 4), "circle").number("cy") - read.y_of(12, 0)) <
             ruler);
}

BOOST_AUTO_TEST_CASE(what_is_no_number_is_not_drawn) {
  SpeedChart chart = three_points();
  chart.points[0].forward->half_width = std::numeric_limits<double>::infinity();
  chart.points[1].forward->speed = std::nan("");
  const Read read(chart);
  BOOST_TEST(read.in_group(read.group("forward", "speed", 4), "line").name.empty());
  BOOST_TEST(read.corners("forward", 0).size() == 2U);
  for (const char* none : {"nan", "inf"}) BOOST_TEST(read.svg.find(none) == std::string::npos, none);
}

BOOST_AUTO_TEST_CASE(ticks_are_round) {
  BOOST_TEST(nice_step(18, 6) == 2);
  BOOST_TEST(nice_step(1.0, 4) == 0.2);
  BOOST_TEST(nice_step(126, 6) == 20);
  BOOST_TEST(nice_step(97, 2) == 50);
  const ChartAxis axis(-0.43, 0.43, 100, 0);
  const std::vector<double> ticks = axis.ticks(4);
  BOOST_REQUIRE(ticks.size() == 5U);
  BOOST_TEST(ticks[0] == -0.4, boost::test_tools::tolerance(1e-9));
  BOOST_TEST(axis.label(ticks[0], 4) == "-0.4");
  BOOST_TEST(axis.label(ticks[2], 4) == "0.0");
  BOOST_TEST(axis.at(0.43) == 0);
  const std::vector<int> of_28 = {1, 5, 10, 15, 20, 25, 28};
  const std::vector<int> of_126 = {1, 20, 40, 60, 80, 100, 126};
  BOOST_TEST(step_ticks(28) == of_28, boost::test_tools::per_element());
  BOOST_TEST(step_ticks(126) == of_126, boost::test_tools::per_element());
}

BOOST_AUTO_TEST_SUITE_END()
