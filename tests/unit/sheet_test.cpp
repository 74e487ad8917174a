#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <limits>
#include <random>
#include <set>
#include <stdexcept>

#include "tuning/target_sheet.h"

using namespace lapwright;
namespace tt = boost::test_tools;

namespace {

TargetSheet two_points() {
  TargetSheet sheet{.name = "Two", .points = {}};
  sheet.points = {{.step = 4, .speed = 2}, {.step = 24, .speed = 12}};
  return sheet;
}

/// The texts of all problems, joined.
std::string wrong(const TargetSheet& sheet) {
  std::string text;
  for (const std::string& line : problems(sheet)) text += line + "\n";
  return text;
}

const StepTarget& at(const std::vector<StepTarget>& targets, int step) {
  return targets.at(static_cast<std::size_t>(step) - 1);
}

}  // namespace

BOOST_AUTO_TEST_SUITE(sheet)

BOOST_AUTO_TEST_CASE(straight_fill_from_rest_and_level_above) {
  const std::vector<StepTarget> targets = expand(two_points());
  BOOST_REQUIRE(targets.size() == 28);
  BOOST_TEST(at(targets, 1).speed == 0.5);
  BOOST_TEST(at(targets, 4).speed == 2.0);
  BOOST_TEST(at(targets, 14).speed == 7.0, tt::tolerance(1e-14));
  BOOST_TEST(at(targets, 24).speed == 12.0);
  BOOST_TEST(at(targets, 28).speed == 12.0);
  for (const StepTarget& target : targets) BOOST_TEST(target.prove);
}

BOOST_AUTO_TEST_CASE(smooth_fill_keeps_points_order_and_plateaus) {
  TargetSheet sheet = two_points();
  sheet.fill = Fill::smooth;
  sheet.points = {
      {.step = 3, .speed = 1}, {.step = 10, .speed = 8}, {.step = 14, .speed = 8}, {.step = 28, .speed = 30}};
  const std::vector<StepTarget> targets = expand(sheet);
  for (const SheetPoint& point : sheet.points) BOOST_TEST(at(targets, point.step).speed == point.speed);
  for (int step = 10; step <= 14; ++step) BOOST_TEST(at(targets, step).speed == 8.0);
  for (int step = 2; step <= 28; ++step) BOOST_TEST(at(targets, step).speed >= at(targets, step - 1).speed);
}

BOOST_AUTO_TEST_CASE(speeds_never_fall_whatever_the_points) {
  for (unsigned seed = 0; seed < 300; ++seed) {
    std::mt19937 random(seed);
    std::exponential_distribution<double> gap(0.5);
    std::bernoulli_distribution taken(0.3), level(0.2), odd(0.5);
    TargetSheet sheet{.name = "Any", .mode = odd(random) ? StepMode::steps28 : StepMode::steps126, .points = {}};
    sheet.fill = odd(random) ? Fill::linear : Fill::smooth;
    double speed = 0.1;
    for (int step = 1; step <= top_step(sheet.mode); ++step) {
      if (!taken(random)) continue;
      sheet.points.push_back({.step = step, .speed = speed});
      if (!level(random)) speed += gap(random);
    }
    if (sheet.points.empty()) continue;
    BOOST_TEST_CONTEXT("seed " << seed) {
      const std::vector<StepTarget> targets = expand(sheet);
      BOOST_TEST(static_cast<int>(targets.size()) == top_step(sheet.mode));
      for (const SheetPoint& point : sheet.points) BOOST_TEST(at(targets, point.step).speed == point.speed);
      const bool sorted = std::is_sorted(targets.begin(), targets.end(),
                                         [](const auto& a, const auto& b) { return a.speed < b.speed - 1e-12; });
      BOOST_TEST(sorted);
      BOOST_TEST(targets.front().speed > 0);
    }
  }
}

BOOST_AUTO_TEST_CASE(tolerance_is_the_wider_one_by_sheet_or_point) {
  TargetSheet sheet = two_points();
  sheet.points[1].speed = 20;
  sheet.points.push_back({.step = 28, .speed = 30, .notch = {}, .tolerance = 1.0, .tolerance_share = 0.01});
  const std::vector<StepTarget> targets = expand(sheet);
  BOOST_TEST(at(targets, 4).tolerance == 0.1);                            // 2 % of 2 is less
  BOOST_TEST(at(targets, 24).tolerance == 0.4, tt::tolerance(1e-14));     // 2 % of 20
  BOOST_TEST(at(targets, 28).tolerance == 1.0);                           // the point's own, 1 % of 30 is less
  BOOST_TEST(at(targets, 26).tolerance == 0.02 * at(targets, 26).speed);  // between points: the sheet's
}

BOOST_AUTO_TEST_CASE(which_steps_are_proved) {
  TargetSheet sheet = two_points();
  sheet.prove = ProveAt::points;
  const auto proved = [&] {
    std::set<int> steps;
    for (const StepTarget& target : expand(sheet)) {
      if (target.prove) steps.insert(target.step);
    }
    return steps;
  };
  BOOST_TEST((proved() == std::set<int>{4, 24}));
  sheet.mode = StepMode::steps126;
  sheet.prove = ProveAt::entries;
  const std::set<int> steps = proved();
  // 1 + (k - 1)·125/27 for k = 1, 2, 3, 14, 27, 28: reference/dcc.md §6.7; and the points 4 and 24
  for (const int step : {1, 6, 10, 61, 121, 126, 4, 24}) BOOST_TEST(steps.contains(step));
  BOOST_TEST(steps.size() == 29);  // entry 6 stands on step 24 already
  BOOST_TEST(step_of_entry(28, StepMode::steps126) == 126);
  BOOST_TEST(step_of_entry(17, StepMode::steps28) == 17);
}

BOOST_AUTO_TEST_CASE(problems_name_place_value_and_remedy) {
  TargetSheet sheet = two_points();
  BOOST_TEST(problems(sheet).empty());
  sheet.points.push_back({.step = 28, .speed = 11, .notch = "8"});
  BOOST_TEST(wrong(sheet) ==
             "target sheet \"Two\", step 28 (notch \"8\"): a speed of 11 mph falls below the 12 of step 24: more "
             "throttle would slow the engine down; give 12 or more\n");
  BOOST_TEST(find_problems(sheet).front().point == 2);
  BOOST_CHECK_THROW(static_cast<void>(expand(sheet)), std::invalid_argument);
}

BOOST_AUTO_TEST_CASE(every_mistake_is_found) {
  const auto with = [](auto change) {
    TargetSheet sheet = two_points();
    change(sheet);
    return wrong(sheet);
  };
  const double nan = std::numeric_limits<double>::quiet_NaN();
  BOOST_TEST(with([](auto& s) { s.name = ""; }).find("has no name") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points.clear(); }).find("has no points") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[0].step = 0; }).find("give 1 … 28") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[1].step = 29; }).find("28-step mode") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[1].step = 4; }).find("two speeds") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[1].step = 2; }).find("order the points") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[0].speed = 0; }).find("can't be measured") != std::string::npos);
  BOOST_TEST(with([&](auto& s) { s.points[0].speed = nan; }).find("can't be measured") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.tolerance = -1; }).find("no width") != std::string::npos);
  BOOST_TEST(with([&](auto& s) { s.points[0].tolerance = nan; }).find("no width") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.tolerance_share = 2; }).find("0.02 for 2 %") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.tolerance = s.tolerance_share = 0; }).find("nothing meets") != std::string::npos);
  BOOST_TEST(with([](auto& s) { s.points[0].notch = s.points[1].notch = "3"; }).find("twice") != std::string::npos);
}

BOOST_AUTO_TEST_SUITE_END()
