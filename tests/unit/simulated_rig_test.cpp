// The whole simulated rig under the clocks: driving, writes in motion, waiting, faults, and the same bytes from a seed.
#include "drivers/simulated/simulated_rig.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/experimental/awaitable_operators.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <functional>
#include <memory>
#include <stdexcept>
#include <string>

#include "drivers/real_clock.h"
#include "drivers/virtual_clock.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace {

namespace asio = boost::asio;
using simulated::EngineDescription;
using simulated::RailwayDescription;
using simulated::SimulatedRig;
using Procedure = std::function<asio::awaitable<void>(SimulatedRig&, Clock&)>;

void rethrow(const std::exception_ptr& failure) {
  if (failure) std::rethrow_exception(failure);
}

asio::awaitable<void> run_and_stop(Procedure procedure, SimulatedRig& rig, Clock& clock) {
  co_await procedure(rig, clock);
  rig.stop();
}

/// The same time, but nobody can tell from it when the others will wake.
class BlindClock final : public Clock {
 public:
  explicit BlindClock(VirtualClock& clock) : clock_(clock) {}
  [[nodiscard]] Instant now() const override { return clock_.now(); }
  asio::awaitable<bool> sleep_on(asio::steady_timer& alarm, Instant deadline) override {
    return clock_.sleep_on(alarm, deadline);
  }

 private:
  VirtualClock& clock_;
};

struct Shed {
  RailwayDescription railway;
  EngineDescription engine;
  std::uint64_t seed = 7;
  VirtualClock clock;
  BlindClock blind{clock};
  bool looks_ahead = true;
  asio::io_context context;

  /// Runs a procedure to its end and returns the rig for inspection.
  std::unique_ptr<SimulatedRig> play(const Procedure& procedure) {
    Clock& known = looks_ahead ? static_cast<Clock&>(clock) : blind;
    auto rig = std::make_unique<SimulatedRig>(railway, engine, known, seed);
    context.restart();
    asio::co_spawn(context, rig->run(), rethrow);
    asio::co_spawn(context, run_and_stop(procedure, *rig, clock), rethrow);
    const auto outcome = clock.run(context, seconds(3600));
    BOOST_TEST((outcome == VirtualClock::Outcome::finished));
    return rig;
  }
};

asio::awaitable<void> without_momentum(SimulatedRig& rig, Clock&) {
  co_await rig.write_cv(3, 0);
  co_await rig.write_cv(4, 0);
  co_await rig.write_cv_bit(29, 4, true);
}

constexpr ThrottleCommand step10{10, Direction::forward, StepMode::steps28};

BOOST_FIXTURE_TEST_SUITE(simulated_rig, Shed)

BOOST_AUTO_TEST_CASE(drives_stops_and_halts) {
  const auto rig = play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await without_momentum(rig, clock);
    BOOST_TEST(rig.engine().speed_mm_s() == 0.0);
    co_await rig.drive(step10);
    co_await clock.sleep_for(seconds(2));
    BOOST_TEST(rig.engine().speed_mm_s() > 50.0);
    BOOST_TEST(*rig.track_current_mA() > 30.0);
    co_await rig.halt();
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(rig.engine().speed_mm_s() == 0.0);
    BOOST_TEST(*rig.track_current_mA() < 30.0);
  });
  BOOST_TEST(rig->distance_mm() > 100.0);
}

BOOST_AUTO_TEST_CASE(writes_in_motion) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await without_momentum(rig, clock);
    co_await rig.drive(step10);
    co_await clock.sleep_for(seconds(2));
    const double before_mm_s = rig.engine().speed_mm_s();
    const int half = rig.decoder().cv(76) / 2;
    const Instant began = clock.now();
    const CvWriteReply reply = co_await rig.write_cv(76, static_cast<std::uint8_t>(half));
    BOOST_TEST((reply == CvWriteReply::silent));
    BOOST_TEST(in_seconds(clock.now() - began) < 0.2);
    BOOST_TEST(int{rig.decoder().cv(76)} == half);
    co_await clock.sleep_for(seconds(2));
    const double after_mm_s = rig.engine().speed_mm_s();
    BOOST_TEST(after_mm_s > 0.35 * before_mm_s);
    BOOST_TEST(after_mm_s < 0.65 * before_mm_s);
    const auto nothing = co_await rig.read_cv(76);
    BOOST_TEST(!nothing.has_value());
  });
}

BOOST_AUTO_TEST_CASE(a_talking_decoder_confirms_and_refuses) {
  engine.decoder.answers_reads = true;
  play([](SimulatedRig& rig, Clock&) -> asio::awaitable<void> {
    const CvWriteReply written = co_await rig.write_cv(67, 12);
    BOOST_TEST((written == CvWriteReply::confirmed));
    const auto value = co_await rig.read_cv(67);
    BOOST_REQUIRE(value.has_value());
    BOOST_TEST(int{*value} == 12);
    const CvWriteReply bit = co_await rig.write_cv_bit(29, 4, true);
    BOOST_TEST((bit == CvWriteReply::confirmed));
    const CvWriteReply fixed = co_await rig.write_cv(7, 99);  // read-only by definition (S-9.2.2 l. 81-85)
    BOOST_TEST((fixed != CvWriteReply::confirmed));
  });
}

BOOST_AUTO_TEST_CASE(two_writers_take_turns) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    const auto executor = co_await asio::this_coro::executor;
    asio::co_spawn(executor, rig.write_cv(70, 70),
                   [](const std::exception_ptr& failure, CvWriteReply) { rethrow(failure); });
    asio::co_spawn(executor, rig.write_cv(71, 71),
                   [](const std::exception_ptr& failure, CvWriteReply) { rethrow(failure); });
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(int{rig.decoder().cv(70)} == 70);
    BOOST_TEST(int{rig.decoder().cv(71)} == 71);
  });
}

/// Reads a CV and gives up after `patience_s`: well before a silent decoder's time is over.
asio::awaitable<void> ask_and_give_up(SimulatedRig& rig, Clock& clock, int cv, double patience_s) {
  using namespace asio::experimental::awaitable_operators;
  auto asking = rig.read_cv(cv);
  auto patience = clock.sleep_for(seconds(patience_s));
  auto first = std::move(asking) || std::move(patience);
  const auto outcome = co_await std::move(first);
  BOOST_TEST(outcome.index() == 1U);
}

BOOST_AUTO_TEST_CASE(an_access_given_up_makes_way_for_the_next) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await ask_and_give_up(rig, clock, 8, 0.05);
    BOOST_TEST(rig.railway().station().busy());  // it has not heard of that
    const Instant asked = clock.now();
    const CvWriteReply reply = co_await rig.write_cv(70, 33);
    BOOST_TEST((reply == CvWriteReply::silent));
    BOOST_TEST(int{rig.decoder().cv(70)} == 33);
    BOOST_TEST(in_seconds(clock.now() - asked) < 1.0);
  });
}

BOOST_AUTO_TEST_CASE(an_answer_that_nobody_waits_for_any_more_is_dropped) {
  engine.decoder.answers_reads = true;
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    const CvWriteReply set = co_await rig.write_cv(70, 33);
    BOOST_TEST((set == CvWriteReply::confirmed));
    co_await ask_and_give_up(rig, clock, 70, 0.001);
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(!rig.railway().station().busy());  // the 33 lies ready
    const auto other = co_await rig.read_cv(71);
    BOOST_REQUIRE(other.has_value());
    BOOST_TEST(int{*other} == int{rig.decoder().cv(71)});
    BOOST_TEST(int{*other} != 33);
  });
}

BOOST_AUTO_TEST_CASE(one_that_gives_up_wakes_the_next_in_line) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    const auto executor = co_await asio::this_coro::executor;
    asio::co_spawn(executor, ask_and_give_up(rig, clock, 8, 0.05), rethrow);
    co_await clock.sleep_for(seconds(0.01));
    const CvWriteReply reply = co_await rig.write_cv(70, 33);  // waits for its turn behind the read
    BOOST_TEST((reply == CvWriteReply::silent));
    BOOST_TEST(int{rig.decoder().cv(70)} == 33);
  });
}

BOOST_AUTO_TEST_CASE(is_set_down_where_the_description_says) {
  railway.start_mm = 480;
  const auto rig = play([](SimulatedRig& rig, Clock&) -> asio::awaitable<void> {
    BOOST_TEST(rig.engine().position_mm() == 480.0);
    co_return;
  });
  railway.shape = TrackShape::shuttle;
  railway.start_mm = engine.length_mm - 1;
  BOOST_CHECK_THROW(SimulatedRig(railway, engine, clock, seed), std::invalid_argument);
}

BOOST_AUTO_TEST_CASE(waits_for_edges_until_the_deadline) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    const Instant deadline = clock.now() + seconds(3.25);
    const auto none = co_await rig.next_edge(deadline);
    BOOST_TEST(!none.has_value());
    BOOST_TEST((clock.now() == deadline));
    co_await without_momentum(rig, clock);
    co_await rig.drive(step10);
    const Instant far = clock.now() + seconds(100);
    const auto edge = co_await rig.next_edge(far);
    BOOST_REQUIRE(edge.has_value());
    BOOST_TEST((edge->heard == clock.now()));
    BOOST_TEST((clock.now() < far));
  });
}

BOOST_AUTO_TEST_CASE(stopping_wakes_everybody_with_a_fault) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    const auto executor = co_await asio::this_coro::executor;
    bool fault = false;
    const auto note = [&fault](const std::exception_ptr& failure, const std::optional<GateEdge>&) {
      try {
        rethrow(failure);
      } catch (const RigFault&) {
        fault = true;
      }
    };
    const Instant far = clock.now() + seconds(1000);
    asio::co_spawn(executor, rig.next_edge(far), note);
    co_await clock.sleep_for(seconds(1));
    rig.stop();
    co_await clock.sleep_for(seconds(1));
    BOOST_TEST(fault);
  });
}

BOOST_AUTO_TEST_CASE(a_dead_track_moves_nothing) {
  play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await without_momentum(rig, clock);
    co_await rig.drive(step10);
    co_await clock.sleep_for(seconds(2));
    rig.set_power(false);
    co_await clock.sleep_for(seconds(3));
    BOOST_TEST(rig.engine().speed_mm_s() == 0.0);
    BOOST_TEST(*rig.track_current_mA() < 10.0);
    bool refused = false;
    try {
      co_await rig.drive(step10);
    } catch (const RigFault&) {
      refused = true;
    }
    BOOST_TEST(refused);
    rig.set_power(true);
    co_await clock.sleep_for(seconds(3));
    BOOST_TEST(rig.engine().speed_mm_s() == 0.0);  // moving again is not automatic
    BOOST_TEST(int{rig.decoder().cv(3)} == 0);     // CVs are kept
  });
}

BOOST_AUTO_TEST_CASE(a_shuttle_ends_at_its_buffers) {
  railway.shape = TrackShape::shuttle;
  railway.length_mm = 1600;
  railway.gates = {Gate{"a", 700, 0.2}, Gate{"b", 850, 0.2}};
  const auto rig = play([](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await without_momentum(rig, clock);
    co_await rig.drive(step10);
    co_await clock.sleep_for(seconds(40));
  });
  BOOST_TEST(rig->buffer_hits() == 1U);
  BOOST_TEST(rig->engine().position_mm() <= 1600.0);
}

BOOST_AUTO_TEST_CASE(an_engine_has_to_fit) {
  railway.length_mm = engine.length_mm;
  BOOST_CHECK_THROW(SimulatedRig(railway, engine, clock, seed), std::invalid_argument);
}

/// Everything that the host hears in a minute, as text.
std::string diary(std::uint64_t seed, bool looks_ahead = true) {
  Shed shed;
  shed.looks_ahead = looks_ahead;
  shed.seed = seed;
  shed.railway.board.miss = 0.03;
  shed.railway.board.twin = 0.05;
  std::string text;
  shed.play([&text](SimulatedRig& rig, Clock& clock) -> asio::awaitable<void> {
    co_await without_momentum(rig, clock);
    co_await rig.drive(step10);
    const Instant end = clock.now() + seconds(200);
    while (clock.now() < end) {
      const auto edge = co_await rig.next_edge(end);
      if (!edge) break;
      text += std::to_string(edge->gate) + (edge->blocked ? "+" : "-") + std::to_string(edge->counter_us) + "@" +
              std::to_string(edge->heard.time_since_epoch().count()) + " " + std::to_string(*rig.track_current_mA()) +
              "\n";
    }
  });
  return text;
}

BOOST_AUTO_TEST_CASE(the_same_seed_gives_the_same_bytes) {
  const std::string first = diary(21);
  BOOST_TEST(first.size() > 500U);
  BOOST_TEST(first == diary(21));
  BOOST_TEST(first != diary(22));
}

BOOST_AUTO_TEST_CASE(packets_that_pass_unwatched_change_nothing) {
  BOOST_TEST(diary(23) == diary(23, false));  // packet by packet, waking for each
}

BOOST_AUTO_TEST_CASE(runs_on_the_real_clock) {
  RealClock real;
  SimulatedRig rig(railway, engine, real, seed);
  asio::io_context io;
  asio::co_spawn(io, rig.run(), rethrow);
  const Procedure procedure = [](SimulatedRig& on, Clock& now) -> asio::awaitable<void> {
    co_await on.write_cv(3, 0);
    co_await on.drive(step10);
    const Instant soon = now.now() + seconds(0.2);
    co_await on.next_edge(soon);
  };
  asio::co_spawn(io, run_and_stop(procedure, rig, real), rethrow);
  io.run();
  BOOST_TEST(rig.packets() > 20U);
  BOOST_TEST(int{rig.decoder().cv(3)} == 0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
