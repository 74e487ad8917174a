// An invented engine tuned to the notched freight sheet: what the engineer on the throttle then gets.
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "drivers/settings/sheet_file.h"
#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"
#include "tuning/scale.h"

namespace lapwright::shifts {

BOOST_AUTO_TEST_SUITE(notches)

BOOST_AUTO_TEST_CASE(freight_notches_by_truth) {
  const TargetSheet sheet = settings::load_sheet(std::string(LAPWRIGHT_CONFIGS) + "/sheets/notched_freight.json");
  for (const std::uint64_t seed : seeds(901, 2)) {
    BOOST_TEST_CONTEXT("fellbeck, seed " << seed) {
      Plan plan = loop_night(from_shed("fellbeck"), seed);
      plan.order.aims = aims_of(sheet, plan.engine.ratio);
      const double ratio = plan.engine.ratio;
      Night night(std::move(plan));
      night.tune();
      BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
      BOOST_TEST(night.result().cells.size() == 16u);  // eight notches, both directions
      struct Notch {
        int step;
        double smph;
      };
      // common practice, no source: notch 1 at 2.5, notch 4 at 10, notch 8 at 18 smph, the same forward and reverse
      for (const Notch& notch : {Notch{4, 2.5}, Notch{14, 10.0}, Notch{28, 18.0}}) {
        const double tolerance = std::max(0.1, 0.02 * notch.smph);
        for (const Direction direction : {Direction::forward, Direction::reverse}) {
          const double mm_s = night.true_speed_mm_s(notch.step, direction);
          const double smph = scale_speed(mm_s, SpeedUnit::mph, ratio);
          BOOST_TEST(std::abs(smph - notch.smph) <= tolerance,
                     "step " << notch.step << " runs at " << smph << " smph instead of " << notch.smph);
        }
      }
      night.settle();
      check_lent_put_back(night);
    }
  }
}

BOOST_AUTO_TEST_CASE(throttle_of_126_steps) {
  // No standard fixes how a decoder fills between the entries (S-9.2.2 CV67-94 is silent): the proof is in the mode
  // that the throttle uses.
  const TargetSheet sheet = settings::load_sheet(std::string(LAPWRIGHT_CONFIGS) + "/sheets/tarn_shunter_126.json");
  for (const std::uint64_t seed : seeds(911, 2)) {
    BOOST_TEST_CONTEXT("peat cutter, 126 steps, seed " << seed) {
      Plan plan = loop_night(plain_engine(), seed);
      plan.order.mode = sheet.mode;
      plan.order.aims = aims_of(sheet, plan.engine.ratio);
      Night night(std::move(plan));
      BOOST_TEST((night.mode() == StepMode::steps126));
      night.tune();
      BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
      const Tally sum = tally(night);
      BOOST_TEST(sum.proved >= 0.9 * static_cast<double>(night.result().cells.size()));
      BOOST_TEST(sum.worst_error < 1.25);
      night.settle();
      check_lent_put_back(night);
      check_left_in_order(night);
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
