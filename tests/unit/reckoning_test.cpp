// Dead reckoning between gates, and what arrivals teach of the lag behind commands.
#include "tuning/reckoning.h"

#include <boost/test/unit_test.hpp>

namespace lapwright {
namespace {

namespace tt = boost::test_tools;
Instant at(double s) { return Instant{} + seconds(s); }

/// An engine that follows each command after `lag_s` exactly, in truth: turned before the gate and sent back to it.
/// @return how far off the reckoning was when the gate saw it, mm
double turn_and_come_back(Reckoning& reckoning, double start_s, double lag_s, double speed_mm_s) {
  reckoning.change_velocity(-speed_mm_s, at(start_s));
  reckoning.seen_at(0, at(start_s));
  reckoning.change_velocity(speed_mm_s, at(start_s + 1));
  const double furthest_mm = -speed_mm_s * (1 + lag_s);
  const double back_s = start_s + 1 + lag_s - furthest_mm / speed_mm_s;
  const double off_mm = reckoning.position_mm(at(back_s));
  const Reckoning::Forecast forecast = reckoning.forecast(-reckoning.position_mm(at(back_s - 0.1)), at(back_s - 0.1));
  reckoning.learn(forecast, 0.02, at(back_s));
  reckoning.seen_at(0, at(back_s));
  return off_mm;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(reckoning)

BOOST_AUTO_TEST_CASE(the_lag_is_learnt_from_turns) {
  for (const double lag_s : {0.03, 0.3}) {
    Reckoning reckoning(at(0));
    const double first_mm = turn_and_come_back(reckoning, 1, lag_s, 400);
    BOOST_TEST(std::abs(first_mm) > 50);
    BOOST_TEST(std::abs(first_mm) < 2.0 * 0.1 * 800 + 1);  // within what `doubt_mm` allowed before
    double last_mm = 0;
    for (int turn = 1; turn < 4; ++turn) last_mm = turn_and_come_back(reckoning, 10.0 * turn, lag_s, 400);
    BOOST_TEST(std::abs(last_mm) < 5);
    BOOST_TEST(reckoning.lag_s() == lag_s, tt::tolerance(0.1));
  }
}

BOOST_AUTO_TEST_CASE(a_way_that_is_hardly_known_teaches_little) {
  Reckoning reckoning(at(0));
  reckoning.seen_at(0, at(0));
  reckoning.change_velocity(400, at(0));
  // Over 2 m at a speed known to 30 %, 100 mm late says nothing of the lag.
  reckoning.learn(reckoning.forecast(1900, at(5)), 0.3, at(10));
  BOOST_TEST(std::abs(reckoning.lag_s() - 0.15) < 0.02);
}

BOOST_AUTO_TEST_CASE(nothing_is_learnt_without_a_change_of_speed) {
  Reckoning reckoning(at(0));
  reckoning.change_velocity(100, at(0));
  reckoning.seen_at(0, at(1));
  reckoning.learn(reckoning.forecast(100, at(1)), 0.02, at(4));
  BOOST_TEST(reckoning.lag_s() == 0.15);
}

BOOST_AUTO_TEST_CASE(a_sighting_revoked_is_as_if_it_had_not_been) {
  Reckoning told(at(0));
  Reckoning untold(at(0));
  for (Reckoning* each : {&told, &untold}) {
    each->change_velocity(-120, at(0));
    each->seen_at(150, at(1));
  }
  told.seen_at(0, at(2));
  BOOST_TEST(told.position_mm(at(2)) == 0);
  told.change_velocity(-60, at(2.5));
  untold.change_velocity(-60, at(2.5));
  told.revoke_sighting();
  BOOST_TEST(told.position_mm(at(3)) == untold.position_mm(at(3)), tt::tolerance(1e-9));
  BOOST_TEST(told.since_seen_mm(at(3)) == untold.since_seen_mm(at(3)), tt::tolerance(1e-9));
  BOOST_TEST(told.doubt_mm(0.1, at(3)) == untold.doubt_mm(0.1, at(3)), tt::tolerance(1e-9));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
