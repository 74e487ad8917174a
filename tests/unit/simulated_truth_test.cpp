// The truth of the simulated railway agrees with what the noisy engine does on average.
#include <boost/test/unit_test.hpp>

#include "drivers/dcc/speed.h"
#include "drivers/simulated/truth.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

using simulated::Decoder;
using simulated::Engine;
using simulated::EngineDescription;
using simulated::RailwayDescription;
using simulated::Reference;
using simulated::Track;
using simulated::Truth;

struct TruthBench {
  RailwayDescription railway;
  EngineDescription description;
  Track track{railway, 5};
  Truth truth() { return {description, track, 15, Reference{track.gates_mm()[0], track.gates_mm()[1]}}; }
};

BOOST_FIXTURE_TEST_SUITE(simulated_truth, TruthBench)

BOOST_AUTO_TEST_CASE(rises_with_drive_and_differs_by_direction) {
  description.friction.reverse_extra = 0.5;
  Truth known = truth();
  double last_mm_s = 0;
  for (int level = 20; level < 400; level += 20) {
    const double ahead_mm_s = known.speed_mm_s(level / 1023.0, Direction::forward);
    const double back_mm_s = known.speed_mm_s(level / 1023.0, Direction::reverse);
    BOOST_TEST(ahead_mm_s > last_mm_s);
    BOOST_TEST(back_mm_s < ahead_mm_s);
    last_mm_s = ahead_mm_s;
  }
  BOOST_TEST(known.speed_mm_s(0, Direction::forward) == 0.0);
}

BOOST_AUTO_TEST_CASE(is_zero_where_an_unregulated_engine_stalls) {
  description.decoder.regulated = false;
  Truth known = truth();
  BOOST_TEST(known.speed_mm_s(0.9 * description.friction.running, Direction::forward) == 0.0);
  BOOST_TEST(known.speed_mm_s(3 * description.friction.running, Direction::forward) > 0.0);
}

BOOST_AUTO_TEST_CASE(is_the_mean_of_many_passes) {
  description.ripple.eccentricity = 0;
  Truth known = truth();
  const Reference reference{track.gates_mm()[0], track.gates_mm()[1]};
  auto plain = description.addressed_decoder();
  plain.cvs = {{cv::acceleration, 0}, {cv::deceleration, 0}, {cv::configuration, 0x12}, {cv::table_entry(5), 40}};
  Decoder decoder(plain);
  const ThrottleCommand command{5, Direction::forward, StepMode::steps28};
  decoder.receive(dcc::speed(dcc::VehicleAddress::short_form(3), command));
  Engine engine(description, track, 15, 5, 0);
  double base_s = 0;
  int passes = 0;
  for (long step = 0; step < 1500000; ++step) {
    engine.advance(0.001, decoder.advance(0.001, engine.back_emf_share()), true);
    if (step < 900000) continue;  // warm by then
    double place_mm = engine.position_mm();
    while (place_mm >= track.length_mm()) place_mm -= track.length_mm();
    if (place_mm >= reference.from_mm && place_mm < reference.to_mm) base_s += 0.001;
    if (place_mm >= reference.to_mm && place_mm - engine.speed_mm_s() * 0.001 < reference.to_mm) ++passes;
  }
  BOOST_REQUIRE(passes >= 4);
  const double seen_mm_s = passes * (reference.to_mm - reference.from_mm) / base_s;
  BOOST_TEST(seen_mm_s == known.speed_mm_s(decoder, command), boost::test_tools::tolerance(0.004));
}

BOOST_AUTO_TEST_CASE(a_regulated_engine_settles_within_a_second) {
  Truth known = truth();
  const auto settled_s = known.settling_s(0.3, 0.1, Direction::forward, 0.02);
  BOOST_REQUIRE(settled_s.has_value());
  BOOST_TEST(*settled_s > 0.1);
  BOOST_TEST(*settled_s < 1.0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
