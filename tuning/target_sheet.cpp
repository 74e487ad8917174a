#include "tuning/target_sheet.h"

#include <algorithm>
#include <cmath>
#include <sstream>
#include <stdexcept>

#include "tuning/cv.h"
#include "tuning/monotone.h"

namespace lapwright {
namespace {

constexpr double fastest = 1000;  ///< mph or km/h; beyond, somebody mixed up units
constexpr double widest_share = 0.5;

template <class... Parts>
std::string sentence(const Parts&... parts) {
  std::ostringstream out;
  (out << ... << parts);
  return out.str();
}

bool good_tolerance(double value) { return std::isfinite(value) && value >= 0; }
bool good_share(double value) { return value >= 0 && value <= widest_share; }

class Inspection {
 public:
  explicit Inspection(const TargetSheet& sheet) : sheet_(sheet), unit_(unit_name(sheet.unit)) {}

  std::vector<SheetProblem> run() {
    check_sheet();
    for (std::size_t i = 0; i < sheet_.points.size(); ++i) {
      point_ = static_cast<int>(i);
      check_values(sheet_.points[i]);
      if (i > 0) check_order(sheet_.points[i - 1], sheet_.points[i]);
      check_notch(i);
    }
    return std::move(problems_);
  }

 private:
  template <class... Parts>
  void add(const Parts&... parts) {
    problems_.push_back({point_, sentence(parts...)});
  }

  void check_sheet() {
    if (sheet_.name.empty()) add("the sheet has no name; give one, reports quote it");
    if (sheet_.points.empty()) add("the sheet has no points; give the speed of at least one step");
    if (!good_tolerance(sheet_.tolerance)) {
      add("the tolerance ", sheet_.tolerance, " ", unit_, " is no width; give 0 or more, usually 0.1");
    }
    if (!good_share(sheet_.tolerance_share)) {
      add("the tolerance share ", sheet_.tolerance_share, " is not 0 … ", widest_share, "; give 0.02 for 2 %");
    }
  }

  void check_values(const SheetPoint& point) {
    const int top = top_step(sheet_.mode);
    if (point.step < 1 || point.step > top) {
      add("step ", point.step, " does not run in ", top, "-step mode; give 1 … ", top);
    }
    if (!(point.speed > 0 && point.speed <= fastest)) {
      add("a speed of ", point.speed, " ", unit_, " can't be measured; give more than 0 and at most ", fastest);
    }
    const double width = point.tolerance.value_or(sheet_.tolerance);
    const double share = point.tolerance_share.value_or(sheet_.tolerance_share);
    if (point.tolerance && !good_tolerance(width))
      add("the tolerance ", width, " ", unit_, " is no width; give 0 or more");
    if (point.tolerance_share && !good_share(share)) {
      add("the tolerance share ", share, " is not 0 … ", widest_share, "; give 0.02 for 2 %");
    }
    if (width == 0 && share == 0) add("tolerance and tolerance share are both 0, which nothing meets; widen one");
  }

  void check_order(const SheetPoint& before, const SheetPoint& point) {
    if (point.step == before.step) {
      add("step ", point.step, " has two speeds; keep one");
    } else if (point.step < before.step) {
      add("step ", point.step, " stands behind step ", before.step, "; order the points by step");
    } else if (point.speed < before.speed) {
      add("a speed of ", point.speed, " ", unit_, " falls below the ", before.speed, " of step ", before.step,
          ": more throttle would slow the engine down; give ", before.speed, " or more");
    }
  }

  void check_notch(std::size_t at) {
    const std::string& notch = sheet_.points[at].notch;
    if (notch.empty()) return;
    for (std::size_t i = 0; i < at; ++i) {
      if (sheet_.points[i].notch == notch) {
        add("notch \"", notch, "\" stands twice, at steps ", sheet_.points[i].step, " and ", sheet_.points[at].step,
            "; rename one");
      }
    }
  }

  const TargetSheet& sheet_;
  std::string_view unit_;
  int point_ = -1;
  std::vector<SheetProblem> problems_;
};

/// The speed of every step 0 … top.
std::vector<double> filled_speeds(const TargetSheet& sheet) {
  std::vector<double> at{0};  // at rest at step 0
  std::vector<double> speed{0};
  for (const SheetPoint& point : sheet.points) {
    at.push_back(point.step);
    speed.push_back(point.speed);
  }
  const MonotoneCurve curve(at, speed);
  std::vector<double> filled;
  std::size_t next = 1;
  for (int step = 0; step <= top_step(sheet.mode); ++step) {
    while (next < at.size() && at[next] < step) ++next;
    if (sheet.fill == Fill::smooth || next == at.size() || at[next] == step) {
      filled.push_back(curve(step));  // holds the last speed beyond the last point
    } else {
      const double share = (step - at[next - 1]) / (at[next] - at[next - 1]);
      filled.push_back(std::lerp(speed[next - 1], speed[next], share));
    }
  }
  return filled;
}

}  // namespace

std::vector<SheetProblem> find_problems(const TargetSheet& sheet) { return Inspection(sheet).run(); }

std::vector<std::string> problems(const TargetSheet& sheet) {
  std::vector<std::string> out;
  for (const SheetProblem& problem : find_problems(sheet)) {
    std::string place = "target sheet \"" + sheet.name + "\"";
    if (problem.point >= 0) {
      const SheetPoint& point = sheet.points[static_cast<std::size_t>(problem.point)];
      place += ", step " + std::to_string(point.step);
      if (!point.notch.empty()) place += " (notch \"" + point.notch + "\")";
    }
    out.push_back(place + ": " + problem.text);
  }
  return out;
}

int step_of_entry(int entry, StepMode mode) {
  if (mode == StepMode::steps28) return entry;
  return static_cast<int>(std::lround(1 + (entry - 1) * 125.0 / 27.0));
}

std::vector<StepTarget> expand(const TargetSheet& sheet) {
  std::string wrong;
  for (const std::string& line : problems(sheet)) wrong += (wrong.empty() ? "" : "\n") + line;
  if (!wrong.empty()) throw std::invalid_argument(wrong);

  const std::vector<double> speeds = filled_speeds(sheet);
  std::vector<StepTarget> targets;
  for (int step = 1; step <= top_step(sheet.mode); ++step) {
    const double speed = speeds[static_cast<std::size_t>(step)];
    targets.push_back(
        {.step = step, .speed = speed, .tolerance = std::max(sheet.tolerance, sheet.tolerance_share * speed)});
  }
  for (const SheetPoint& point : sheet.points) {
    StepTarget& target = targets[static_cast<std::size_t>(point.step) - 1];
    target.tolerance = std::max(point.tolerance.value_or(sheet.tolerance),
                                point.tolerance_share.value_or(sheet.tolerance_share) * point.speed);
    target.notch = point.notch;
    target.prove = true;
  }
  for (int entry = 1; sheet.prove == ProveAt::entries && entry <= cv::table_entries; ++entry) {
    targets[static_cast<std::size_t>(step_of_entry(entry, sheet.mode)) - 1].prove = true;
  }
  return targets;
}

}  // namespace lapwright
