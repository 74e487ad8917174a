// Drive levels of table values and steps, and back.
#include "tuning/drive.h"

#include <boost/test/unit_test.hpp>
#include <cmath>

namespace lapwright {
namespace {

const auto exactly = boost::test_tools::tolerance(1e-12);
const Traits trims_only{true, false, true};
const Traits scaled_only{false, true, true};
const Traits both{true, true, true};
const Traits unknown{};

DriveSettings with_trims(int forward, int reverse) {
  DriveSettings settings;
  settings.trim = {forward, reverse};
  return settings;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(drive)

BOOST_AUTO_TEST_CASE(worked_example_of_the_standard) {
  // NMRA S-9.2.2 CV66/CV95, factor n/128; the worked numbers of reference/dcc.md §6.7
  const DriveSettings settings = with_trims(140, 110);
  BOOST_TEST(drive_of_value(trims_only, settings, 120, Direction::forward) == 131.25, exactly);
  BOOST_TEST(drive_of_value(trims_only, settings, 120, Direction::reverse) == 103.125, exactly);
  // … table 200, CV66 = 200 would be 312.5 and is limited to full
  BOOST_TEST(drive_of_value(trims_only, with_trims(200, 128), 200, Direction::forward) == 255.0, exactly);
  // 0: trim not used, not factor 0
  BOOST_TEST(drive_of_value(trims_only, with_trims(0, 0), 120, Direction::reverse) == 120.0, exactly);
}

BOOST_AUTO_TEST_CASE(traits_decide_what_counts) {
  DriveSettings settings = with_trims(64, 64);
  settings.start_voltage = 10;
  settings.top_voltage = 163;
  BOOST_TEST(drive_of_value(unknown, settings, 100, Direction::forward) == 100.0, exactly);
  BOOST_TEST(drive_of_value(trims_only, settings, 100, Direction::forward) == 50.0, exactly);
  // RCN-225 leaves open whether CV2 … CV5 span the table: 10 + 153·100/255 = 70
  BOOST_TEST(drive_of_value(scaled_only, settings, 100, Direction::forward) == 70.0, exactly);
  BOOST_TEST(drive_of_value(both, settings, 100, Direction::forward) == 35.0, exactly);
  BOOST_TEST(drive_of_value(scaled_only, settings, 0, Direction::forward) == 10.0, exactly);
  BOOST_TEST(drive_of_value(scaled_only, settings, 255, Direction::forward) == 163.0, exactly);
}

BOOST_AUTO_TEST_CASE(value_of_drive_is_the_inverse) {
  for (const Traits& traits : {unknown, trims_only, scaled_only, both}) {
    for (const int trim : {0, 1, 64, 128, 200, 255}) {
      DriveSettings settings = with_trims(trim, 255 - trim);
      settings.start_voltage = 4;
      settings.top_voltage = 190;
      for (int value = 0; value <= 255; value += 5) {
        for (const Direction direction : {Direction::forward, Direction::reverse}) {
          const double drive = drive_of_value(traits, settings, value, direction);
          if (drive >= 255) continue;
          BOOST_TEST(std::abs(value_of_drive(traits, settings, drive, direction) - value) < 1e-9);
        }
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(positions_of_126_steps) {
  // reference/dcc.md §6.7: p = 1 + (n - 1)·27/125, entry k is hit exactly at n = 1 + (k - 1)·125/27
  BOOST_TEST(table_position(StepMode::steps126, 1) == 1.0, exactly);
  BOOST_TEST(table_position(StepMode::steps126, 126) == 28.0, exactly);
  BOOST_TEST(table_position(StepMode::steps126, 2) == 1.216, exactly);
  BOOST_TEST(table_position(StepMode::steps126, 51) == 11.8, exactly);
  BOOST_TEST(table_position(StepMode::steps126, 26) == 6.4, exactly);
  for (int entry = 1; entry <= 28; ++entry) {
    const double step = 1 + (entry - 1) * 125.0 / 27.0;
    const int nearest = static_cast<int>(std::lround(step));
    BOOST_TEST(std::abs(table_position(StepMode::steps126, nearest) - entry) <= 0.5 * 27 / 125);
    BOOST_TEST(table_position(StepMode::steps28, entry) == entry);
  }
}

BOOST_AUTO_TEST_CASE(values_between_entries_are_linear) {
  DriveSettings settings;
  for (std::size_t i = 0; i < settings.table.size(); ++i) settings.table[i] = static_cast<int>(9 * i);
  for (int step = 1; step <= 28; ++step) {
    BOOST_TEST(value_of_step(settings, StepMode::steps28, step) == 9.0 * (step - 1), exactly);
  }
  for (int step = 1; step <= 126; ++step) {
    const double expected = 9 * (step - 1) * 27.0 / 125.0;
    BOOST_TEST(std::abs(value_of_step(settings, StepMode::steps126, step) - expected) < 1e-9);
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
