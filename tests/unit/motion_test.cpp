// One pass at a time on an ideal engine: both directions, edges that fail, and the ends of a shuttle.
#include "tuning/motion.h"

#include <cmath>

#include "tests/unit/fake_rig.h"
#include "tests/unit/run_here.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;

constexpr double per_step_mm_s = 5;
const Trap trap{0, 1, 150, 0.28};

TestTrack track_of(TrackShape shape, double length_mm) {
  TestTrack track;
  track.shape = shape;
  track.length_mm = length_mm;
  track.gates = {Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
  return track;
}

struct Yard {
  VirtualClock clock;
  asio::io_context context{1};
  FakeRig rig{clock};
  TestTrack track;
  Motion motion;

  explicit Yard(TrackShape shape = TrackShape::loop, double length_mm = 6000)
      : track(track_of(shape, length_mm)), motion(rig, clock, track, StepMode::steps28) {
    rig.loop_mm = shape == TrackShape::loop ? length_mm : 0;
    rig.lag_s = 0.1;
    rig.speed_mm_s = [](ThrottleCommand command) { return per_step_mm_s * command.step; };
    motion.use_trap(trap);
    for (int step = 1; step <= 28; ++step) {
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        motion.book().set(step, direction, per_step_mm_s * step);
      }
    }
    stand_at(600);
  }
  void stand_at(double track_mm) {
    rig.put_at(track_mm);
    motion.set_position(track_mm - rig.gates_mm[0]);
  }
  PassReading pass(int step, Direction direction) {
    PassOrder order;
    order.step = step;
    order.direction = direction;
    order.expected_mm_s = motion.book().get(step, direction);
    PassReading reading;
    const auto procedure = [&]() -> asio::awaitable<void> { reading = co_await motion.pass(order); };
    run_here(clock, context, procedure());
    return reading;
  }
  bool recover(Direction direction) {
    Whereabouts found = Whereabouts::lost;
    const auto procedure = [&]() -> asio::awaitable<void> { found = co_await motion.recover(direction); };
    run_here(clock, context, procedure());
    return found != Whereabouts::lost;
  }
  [[nodiscard]] double now_s() const { return in_seconds(clock.now().time_since_epoch()); }
};

}  // namespace

BOOST_AUTO_TEST_SUITE(motion)

BOOST_AUTO_TEST_CASE(step_near_takes_the_fastest_that_is_not_too_fast) {
  SpeedBook book(StepMode::steps28);
  BOOST_TEST(book.step_near(50, Direction::forward) == 0);  // nothing usable
  book.set(5, Direction::forward, 30);
  book.set(9, Direction::forward, 50);
  book.set(20, Direction::forward, 90);
  BOOST_TEST(book.step_near(60, Direction::forward) == 9);
  BOOST_TEST(book.step_near(50, Direction::forward) == 9);
  BOOST_TEST(book.step_near(1000, Direction::forward) == 20);
  BOOST_TEST(book.step_near(10, Direction::forward) == 5);  // all are faster: the slowest
  BOOST_TEST(book.step_near(60, Direction::reverse) == 0);
  BOOST_TEST(SpeedBook(StepMode::steps126).top() == 126);
}

BOOST_AUTO_TEST_CASE(passes_to_and_fro_read_the_true_speed) {
  Yard yard;
  for (const int step : {28, 28, 20, 12, 12, 6, 3, 1}) {
    for (const Direction direction : {Direction::reverse, Direction::forward}) {
      const PassReading reading = yard.pass(step, direction);
      BOOST_TEST_CONTEXT("step " << step << (direction == Direction::forward ? " forward" : " reverse")) {
        BOOST_TEST((reading.trouble == PassTrouble::none));
        BOOST_TEST(reading.speed_mm_s == per_step_mm_s * step, boost::test_tools::tolerance(1e-4));
        BOOST_TEST(reading.doubt_mm_s == 0.0);
        // Derived: two stamps of ±50 µs over 150 mm
        const double elapsed_s = 150 / reading.speed_mm_s;
        BOOST_TEST(reading.timing_sd_mm_s == std::sqrt(2.0) * 0.00005 * reading.speed_mm_s / elapsed_s,
                   boost::test_tools::tolerance(1e-9));
      }
    }
  }
  BOOST_TEST(yard.motion.running_s() > 100);
  BOOST_TEST(yard.motion.running_s() <= yard.now_s() + 1e-9);  // summed up otherwise
}

BOOST_AUTO_TEST_CASE(the_speed_has_its_run_up) {
  Yard yard;
  BOOST_TEST((yard.pass(10, Direction::forward).trouble == PassTrouble::none));
  BOOST_TEST((yard.rig.commands.back() == ThrottleCommand{10, Direction::forward, StepMode::steps28}));
  // From the command to the trap: at least most of the 0.9 s that are asked for.
  const PassReading back = yard.pass(10, Direction::reverse);
  BOOST_TEST((back.trouble == PassTrouble::none));
  const double crawl_s = yard.now_s();
  const PassReading slow = yard.pass(2, Direction::forward);
  BOOST_TEST((slow.trouble == PassTrouble::none));
  // Rock, don't circulate: a pass at 10 mm/s is 15 s in the trap and a few seconds of turning.
  BOOST_TEST(yard.now_s() - crawl_s < 15 + 8);
}

BOOST_AUTO_TEST_CASE(the_engine_is_where_it_is_thought_to_be) {
  Yard yard;
  BOOST_TEST((yard.pass(20, Direction::forward).trouble == PassTrouble::none));
  const double before_mm = yard.rig.position_mm();
  const auto away = [&]() -> asio::awaitable<void> {
    co_await yard.motion.command(10, Direction::reverse, 50);
    co_await yard.motion.roll(2);
    co_await yard.motion.stand();
    co_await yard.motion.roll(0.5);
  };
  run_here(yard.clock, yard.context, away());
  const double moved_mm = before_mm - yard.rig.position_mm();
  BOOST_TEST(std::abs(moved_mm - 100) < 20);  // 2 s at 50 mm/s, less what the turn costs
  BOOST_TEST((yard.pass(20, Direction::reverse).trouble == PassTrouble::none));  // and it still finds the trap
}

BOOST_AUTO_TEST_CASE(missed_entry) {
  Yard yard;
  BOOST_TEST((yard.pass(20, Direction::forward).trouble == PassTrouble::none));
  yard.rig.loses = [](const GateEdge& edge) { return edge.gate == 1; };
  const PassReading lost = yard.pass(20, Direction::reverse);  // in reverse the east gate is the entry
  BOOST_TEST((lost.trouble == PassTrouble::entry_missed));
  BOOST_TEST(lost.speed_mm_s == 0.0);
  yard.rig.loses = {};
  BOOST_TEST((yard.pass(20, Direction::forward).trouble == PassTrouble::none));
}

BOOST_AUTO_TEST_CASE(missed_exit_ends_in_time) {
  Yard yard;
  BOOST_TEST((yard.pass(20, Direction::reverse).trouble == PassTrouble::none));
  yard.rig.loses = [](const GateEdge& edge) { return edge.gate == 1; };
  const double before_s = yard.now_s();
  BOOST_TEST((yard.pass(20, Direction::forward).trouble == PassTrouble::no_exit));
  // patience 2.2 × 1.5 s + 1.5 s for the exit, about the same for the entry, the way there
  BOOST_TEST(yard.now_s() - before_s < 15);
}

BOOST_AUTO_TEST_CASE(an_engine_that_stalls_ends_in_time) {
  Yard yard;
  BOOST_TEST((yard.pass(20, Direction::reverse).trouble == PassTrouble::none));
  yard.rig.speed_mm_s = [](ThrottleCommand command) { return command.step < 4 ? 0.0 : per_step_mm_s * command.step; };
  const double before_s = yard.now_s();
  BOOST_TEST((yard.pass(3, Direction::forward).trouble == PassTrouble::no_entry));
  BOOST_TEST(yard.now_s() - before_s < 20);
}

BOOST_AUTO_TEST_CASE(recovers_from_anywhere_on_a_loop) {
  for (const double at_mm : {300.0, 1070.0, 1250.0, 3000.0, 5500.0}) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      BOOST_TEST_CONTEXT("at " << at_mm << (direction == Direction::forward ? " forward" : " reverse")) {
        Yard yard;
        yard.rig.put_at(at_mm);  // the motion thinks that it stands at 600 mm
        BOOST_TEST(yard.recover(direction));
        BOOST_TEST((yard.pass(20, direction).trouble == PassTrouble::none));
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(not_found_where_no_gate_answers) {
  Yard yard;
  yard.rig.loses = [](const GateEdge&) { return true; };
  BOOST_TEST(!yard.recover(Direction::forward));
  BOOST_TEST(yard.now_s() < 200);
}

BOOST_AUTO_TEST_CASE(shuttle_keeps_off_the_buffers) {
  Yard yard(TrackShape::shuttle, 3000);
  yard.rig.gates_mm = {1425, 1575};
  yard.motion.set_limits(1425 - yard.rig.length_mm, 3000 - 1575);
  yard.stand_at(900);
  for (const int step : {28, 14, 28, 7, 28, 3, 28}) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      const PassReading reading = yard.pass(step, direction);
      BOOST_TEST((reading.trouble == PassTrouble::none), "step " << step);
    }
  }
  BOOST_TEST(yard.rig.lowest_mm > yard.rig.length_mm);  // the rear end is that far behind
  BOOST_TEST(yard.rig.highest_mm < 3000);
}

BOOST_AUTO_TEST_CASE(short_shuttle_limits_the_run_up) {
  Yard yard(TrackShape::shuttle, 560);
  yard.rig.gates_mm = {290, 440};
  yard.motion.set_limits(290 - yard.rig.length_mm, 120);
  yard.stand_at(250);
  for (int i = 0; i < 6; ++i) {  // 140 mm/s would like 126 mm and has 110 and 120
    BOOST_TEST((yard.pass(28, Direction::forward).trouble == PassTrouble::none));
    BOOST_TEST((yard.pass(28, Direction::reverse).trouble == PassTrouble::none));
  }
  BOOST_TEST(yard.rig.lowest_mm > yard.rig.length_mm);
  BOOST_TEST(yard.rig.highest_mm < 560);
}

BOOST_AUTO_TEST_CASE(laps_past_one_gate) {
  Yard yard(TrackShape::loop, 1200);
  yard.rig.gates_mm = {700};
  const Trap lap{0, 0, 1200, 5};
  yard.motion.use_trap(lap);
  yard.stand_at(400);
  for (const Direction direction : {Direction::forward, Direction::reverse, Direction::forward}) {
    const PassReading reading = yard.pass(20, direction);
    BOOST_TEST((reading.trouble == PassTrouble::none));
    BOOST_TEST(reading.speed_mm_s == 100.0, boost::test_tools::tolerance(1e-4));
  }
}

BOOST_AUTO_TEST_CASE(laps_of_an_engine_that_is_faster_than_thought) {
  // A lap read as two is half the speed: whoever expects a trim to act would believe it.
  Yard yard(TrackShape::loop, 1200);
  yard.rig.gates_mm = {700};
  const Trap lap{0, 0, 1200, 5};
  yard.motion.use_trap(lap);
  yard.stand_at(400);
  BOOST_TEST((yard.pass(20, Direction::forward).trouble == PassTrouble::none));
  yard.motion.book().set(20, Direction::forward, 55);
  const PassReading reading = yard.pass(20, Direction::forward);
  if (reading.trouble == PassTrouble::none) {
    BOOST_TEST(reading.speed_mm_s == 100.0, boost::test_tools::tolerance(1e-4));
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
