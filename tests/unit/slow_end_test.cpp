// The floor of an engine: believed, doubted, and put into table values; and from which drive it starts by itself.
#include "tuning/slow_end.h"

#include <boost/test/unit_test.hpp>
#include <vector>

#include "tuning/starts.h"

namespace lapwright {
namespace {

Observation ran(double drive, Direction direction = Direction::forward) {
  return Observation{drive, direction, 0.1 * drive, 100, 0};
}

}  // namespace

BOOST_AUTO_TEST_SUITE(slow_end)

BOOST_AUTO_TEST_CASE(a_stall_below_what_ran_is_the_floor) {
  SlowEnd end;
  const std::vector<Observation> seen = {ran(40), ran(30, Direction::reverse)};
  end.note_stall(Query{32, Direction::forward}, seen);
  BOOST_TEST(end.floor(Direction::forward) == 32.0);
  BOOST_TEST(end.floor(Direction::reverse) < 0);
  BOOST_TEST(end.stalls(Query{32, Direction::forward}));
  BOOST_TEST(end.stalls(Query{20, Direction::forward}));
  BOOST_TEST(!end.stalls(Query{33, Direction::forward}));
  BOOST_TEST(!end.stalls(Query{20, Direction::reverse}));
}

BOOST_AUTO_TEST_CASE(a_stall_above_what_ran_is_dirt) {
  SlowEnd end;
  end.note_stall(Query{45, Direction::forward}, std::vector<Observation>{ran(40)});
  BOOST_TEST(end.floor(Direction::forward) < 0);
  end.note_stall(Query{38, Direction::forward}, std::vector<Observation>{ran(40)});
  BOOST_TEST(end.floor(Direction::forward) == 38.0);
  end.doubt(std::vector<Observation>{ran(40), ran(36)});  // it ran slower since
  BOOST_TEST(end.floor(Direction::forward) < 0);
}

BOOST_AUTO_TEST_CASE(gap_in_table_values) {
  const Traits trims{true, false, true};
  DriveSettings settings;
  settings.trim = {64, 64};  // two values for each count
  SlowEnd end;
  const std::vector<Observation> seen = {ran(40), ran(50), ran(36, Direction::reverse)};
  BOOST_TEST(end.gap(seen, trims, settings).stalls == -1);
  end.note_stall(Query{30, Direction::forward}, seen);
  const SlowEnd::Gap gap = end.gap(seen, trims, settings);
  BOOST_TEST(gap.stalls == 60);
  BOOST_TEST(gap.runs == 80);  // reverse has no floor and does not matter
}

BOOST_AUTO_TEST_CASE(starts_from_rest) {
  Starts starts;
  BOOST_TEST(!starts.known(Direction::forward, 30));
  starts.note(Direction::forward, 30, true);
  BOOST_TEST(starts.at(Direction::forward, 31).value());
  BOOST_TEST(!starts.known(Direction::forward, 29));
  BOOST_TEST(!starts.known(Direction::reverse, 31));
  starts.note(Direction::forward, 25, false);
  BOOST_TEST(!starts.at(Direction::forward, 25).value());
  BOOST_TEST(!starts.known(Direction::forward, 27));
  starts.note(Direction::forward, 32, false);  // against the earlier trial: the standstill counts
  BOOST_TEST(!starts.at(Direction::forward, 31).value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
