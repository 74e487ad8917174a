#include "tests/shifts/checks.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>

namespace lapwright::shifts {
namespace {

/// For whoever looks into a failing seed: seen with --log_level=message.
void tell(Night& night, const CellResult& cell, const char* what) {
  BOOST_TEST_MESSAGE("step " << cell.step << (cell.direction == Direction::forward ? " forward " : " reverse ") << what
                             << ": verdict " << int{static_cast<std::uint8_t>(cell.verdict)} << ", shortfall "
                             << int{static_cast<std::uint8_t>(cell.shortfall)} << ", passes " << cell.passes
                             << ", estimate " << cell.speed_mm_s << " ± " << cell.half_width_mm_s << " mm/s, target "
                             << cell.target_mm_s << " ± " << cell.tolerance_mm_s << ", true error "
                             << night.true_error(cell) << " tolerances");
}

constexpr double well_inside = 0.6;     // of tolerance: nearer to its edge a step may cost more passes than it is worth
constexpr double as_good_share = 0.02;  // of tolerance: values that differ less are equally good
constexpr int beside = 2;               // values around the one whose mean speed reaches the target

bool is_attainable(Night& night, const CellResult& cell) {
  if (night.mode() != StepMode::steps28) return false;  // a step between entries has no value of its own
  const auto reaches = [&](int value) {
    const double forward = night.true_speed_with(value, cell.step, Direction::forward);
    return forward + night.true_speed_with(value, cell.step, Direction::reverse) >= 2 * cell.target_mm_s;
  };
  int low = 0;
  int high = 255;
  while (high - low > 1) {
    const int middle = (low + high) / 2;
    (reaches(middle) ? high : low) = middle;
  }
  for (int value = std::max(high - beside, 0); value <= std::min(high + beside, 255); ++value) {
    if (night.true_error_with(value, cell) < well_inside) return true;
  }
  return false;
}

constexpr int most_writes = 60;  // of one CV: what the guarded rig allows, since a decoder's memory wears

}  // namespace

Tally& Tally::operator+=(const Tally& other) {
  proved += other.proved;
  best_attainable += other.best_attainable;
  marginal += other.marginal;
  failed += other.failed;
  false_accepts += other.false_accepts;
  attainable_missed += other.attainable_missed;
  worst_error = std::max(worst_error, other.worst_error);
  return *this;
}

Tally tally(Night& night) {
  Tally sum;
  for (const CellResult& cell : night.result().cells) {
    if (cell.verdict != Verdict::proved) {
      tell(night, cell, "not proved");
      if (is_attainable(night, cell)) ++sum.attainable_missed;
    }
    switch (cell.verdict) {
      case Verdict::proved: {
        const double error = night.true_error(cell);
        ++sum.proved;
        sum.worst_error = std::max(sum.worst_error, error);
        if (error <= 1) break;
        ++sum.false_accepts;
        tell(night, cell, "called proved and truly out of tolerance");
        break;
      }
      case Verdict::best_attainable:
        ++sum.best_attainable;
        break;
      case Verdict::marginal:
        ++sum.marginal;
        break;
      case Verdict::failed:
      case Verdict::not_measured:
        ++sum.failed;
        break;
    }
  }
  return sum;
}

std::optional<int> clearly_better(Night& night, const CellResult& cell) {
  const int held = night.result().settings.table[static_cast<std::size_t>(cell.step - 1)];
  double best = night.true_error_with(held, cell) - as_good_share;
  std::optional<int> better;
  for (int value = std::max(0, held - 6); value <= std::min(255, held + 6); ++value) {
    const double error = night.true_error_with(value, cell);
    if (error >= best) continue;
    best = error;
    better = value;
  }
  if (better && std::abs(*better - held) <= 1) return std::nullopt;
  return better;
}

void check_left_in_order(Night& night) {
  const DriveSettings& settings = night.result().settings;
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    const int value = settings.table[static_cast<std::size_t>(entry - 1)];
    BOOST_TEST(night.cv(cv::table_entry(entry)) == value, "table entry " << entry << " is not in the decoder");
    if (entry == 1) continue;
    const int before = settings.table[static_cast<std::size_t>(entry - 2)];
    BOOST_TEST(before <= value, "the table falls at entry " << entry);
  }
  if (night.result().traits.trims_act == true) {
    BOOST_TEST(night.cv(cv::forward_trim) == settings.trim[0]);
    BOOST_TEST(night.cv(cv::reverse_trim) == settings.trim[1]);
  }
  BOOST_TEST(night.cv(cv::top_voltage) == settings.top_voltage);
  BOOST_TEST((night.cv(cv::configuration) >> cv::table_bit) % 2 == 1, "the table is off");
  BOOST_TEST(night.most_writes_of_one_cv() <= most_writes);
}

void check_lent_put_back(Night& night) {
  for (const int number : {cv::acceleration, cv::deceleration, cv::consist_address, cv::acceleration_adjustment,
                           cv::deceleration_adjustment, cv::kick_start}) {
    BOOST_TEST(night.cv(number) == night.cv_at_first(number), "CV" << number << " was not put back: it is "
                                                                   << night.cv(number) << " instead of "
                                                                   << night.cv_at_first(number));
  }
  BOOST_TEST(night.ledger().owed().empty());
}

}  // namespace lapwright::shifts
