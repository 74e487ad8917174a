// What the decoder obeys, found by experiment: every combination of traits on a few seeds.
#include <boost/test/unit_test.hpp>

#include "tests/shifts/checks.h"
#include "tests/shifts/plans.h"

namespace lapwright::shifts {
namespace {

struct Kind {
  bool trims_act;
  bool table_scaled;
  bool enabled;     ///< CV29 bit 4 as found
  bool bit_writes;  ///< understands the bit-manipulation form
};

constexpr Kind kinds[] = {
    {true, false, true, true},   {true, true, true, true},   {false, false, true, true}, {false, true, true, true},
    {true, false, false, true},  {false, true, false, true}, {true, true, false, false}, {false, false, false, false},
    {true, false, false, false}, {false, true, true, false},
};

simulated::EngineDescription engine_of(const Kind& kind) {
  simulated::EngineDescription engine = plain_engine();
  engine.decoder.trims_act = kind.trims_act;
  engine.decoder.table_scaled = kind.table_scaled;
  engine.decoder.bit_writes = kind.bit_writes;
  engine.decoder.cvs[cv::configuration] = kind.enabled ? 0x12 : 0x02;
  engine.decoder.cvs[cv::top_voltage] = 200;
  return engine;
}

/// Only a few steps have to be proved: traits are known long before.
void shorten(Plan& plan) {
  for (StepAim& aim : plan.order.aims) aim.prove = aim.step == 14 || aim.step == 21 || aim.step == 28;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(traits)

BOOST_AUTO_TEST_CASE(found_as_the_engine_is_described) {
  std::uint64_t first = 200;
  for (const Kind& kind : kinds) {
    first += 10;
    for (const std::uint64_t seed : seeds(first, 3)) {
      BOOST_TEST_CONTEXT("trims act " << kind.trims_act << ", scaled " << kind.table_scaled << ", enabled "
                                      << kind.enabled << ", bit writes " << kind.bit_writes << ", seed " << seed) {
        Plan plan = loop_night(engine_of(kind), seed);
        shorten(plan);
        Night night(plan);
        night.tune();
        BOOST_TEST((night.result().end == TuneEnd::complete), night.result().detail);
        const Traits& found = night.result().traits;
        BOOST_TEST((found.trims_act == kind.trims_act));
        BOOST_TEST((found.table_scaled == kind.table_scaled));
        BOOST_TEST((found.table_enabled == true));
        BOOST_TEST(tally(night).worst_error < 1.25);
        night.settle();
        check_left_in_order(night);
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(known_from_the_record_are_not_tried_again) {
  for (const std::uint64_t seed : seeds(321, 1)) {
    BOOST_TEST_CONTEXT("seed " << seed) {
      Plan plan = loop_night(engine_of(kinds[1]), seed);
      shorten(plan);
      plan.order.traits = Traits{true, true, true};
      Night told(plan);
      told.tune();
      BOOST_TEST((told.result().end == TuneEnd::complete), told.result().detail);
      BOOST_TEST(told.writes_of(cv::configuration) == 0);
      plan.order.traits = Traits{};
      Night untold(plan);
      untold.tune();
      BOOST_TEST(told.writes_of(cv::reverse_trim) < untold.writes_of(cv::reverse_trim));
      BOOST_TEST(told.writes_of(cv::top_voltage) < untold.writes_of(cv::top_voltage));
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
