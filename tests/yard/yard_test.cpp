// Engines come out of their staging tracks, are measured, and go home, while nobody is there. Railway and engines are
// invented; where the engines truly are the simulated railway tells.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cstdlib>
#include <ctime>
#include <string>

#include "daemon/staging_turn.h"
#include "tests/yard/yard_bench.h"

namespace lapwright::yard {
namespace {

void show(const YardBench& bench, const ShiftResult& shift) {
  BOOST_TEST_MESSAGE("trouble: " << shift.trouble);
  for (const ShiftTurn& turn : shift.turns) {
    BOOST_TEST_MESSAGE(turn.entry.engine << ": " << turn.result.tune.detail
                                         << (turn.result.stop ? turn.result.stop->sentence : "") << " "
                                         << turn.result.told);
  }
  for (const Left& left : bench.stand->runs) {
    BOOST_TEST_MESSAGE(left.engine << (left.home ? " home" : " on the loop") << " to buffers " << left.to_buffers_mm
                                   << " at " << left.on_the_loop_mm << " hits " << left.buffer_hits
                                   << (left.derailed ? " derailed" : "") << " took " << left.lasted_s);
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(staging)

BOOST_AUTO_TEST_CASE(each_comes_out_and_goes_home) {
  const char* const wanted = std::getenv("LAPWRIGHT_YARD_SEEDS");
  const std::uint64_t seeds = wanted != nullptr ? std::stoul(wanted) : 4;
  double longest_s = 0;
  for (std::uint64_t seed = 1; seed <= seeds; ++seed) {
    for (const bool turned : {false, true}) {
      BOOST_TEST_CONTEXT("seed " << seed << (turned ? " the other way" : "")) {
        YardBench bench(seed);
        if (turned) bench.turn_round();
        const ShiftResult shift = bench.run();
        BOOST_TEST(shift.turns.size() == 3U);
        BOOST_TEST(shift.trouble.empty(), shift.trouble);
        BOOST_TEST(bench.all_at_home());
        BOOST_TEST(bench.stand->collisions == 0);
        BOOST_TEST(bench.queue.on_track.empty());
        if (!bench.all_at_home()) show(bench, shift);
        for (const Left& left : bench.stand->runs) {
          if (!left.home) continue;
          BOOST_TEST(left.to_buffers_mm > 60);
          BOOST_TEST(left.lasted_s < way_home_s);
          longest_s = std::max(longest_s, left.lasted_s);
        }
      }
    }
  }
  BOOST_TEST_MESSAGE("the longest way home took " << longest_s << " s");
}

// Whole tunes: the decoder's table is another one on the way home than on the way out, and momentum is back.
BOOST_AUTO_TEST_CASE(after_a_tune_as_well) {
  YardBench bench(4);
  const ShiftResult shift = bench.run({Work::tune, Work::tune, Work::tune});
  BOOST_TEST(shift.turns.size() == 3U);
  for (const ShiftTurn& turn : shift.turns) BOOST_TEST((turn.result.tune.end == TuneEnd::complete));
  BOOST_TEST(bench.all_at_home());
  BOOST_TEST(bench.stand->collisions == 0);
}

// It stands where the turnouts did not lead it, and nobody else comes out.
BOOST_AUTO_TEST_CASE(turnouts_that_do_not_move_on_the_way_home) {
  YardBench bench;
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [&stand](const std::string&, simulated::SimulatedRig& rig, double since_s) {
      const bool way_home = stand.runs.size() == 2;
      if (way_home && since_s > 1) rig.jam_turnouts(true);
    };
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(shift.rig_lost);
  BOOST_TEST(shift.needs_person);
  BOOST_TEST(shift.trouble.find("Fellbeck no. 7 did not get home: gate throat saw ") == 0U, shift.trouble);
  BOOST_REQUIRE(bench.trip.has_value());
  BOOST_TEST(bench.trip->code == "off-route");
  BOOST_TEST(bench.queue.moving);
  BOOST_TEST(bench.stand->runs.size() == 3U);
  BOOST_TEST(!bench.stand->runs.back().home);
  BOOST_TEST(!bench.stand->runs.back().derailed);
  // Its work is done all the same, and stays so.
  BOOST_TEST(bench.queue.ended.size() == 1U);

  // Nobody has looked yet.
  const ShiftResult again = bench.run();
  BOOST_TEST(again.turns.empty());
  BOOST_TEST(again.trouble.find("Fellbeck no. 7 was on its way") == 0U, again.trouble);
  // A person has put it back.
  bench.stand->misfortune = {};
  bench.stand->put_away("Fellbeck");
  const ShiftResult after = bench.run({}, true);
  BOOST_TEST(after.turns.size() == 2U);
  BOOST_TEST(after.trouble.empty(), after.trouble);
  BOOST_TEST(bench.stand->on_the_loop().empty());
}

// The power fails while it creeps out: 10 s later nobody knows whether it still stands in its track.
BOOST_AUTO_TEST_CASE(a_crash_on_the_way) {
  YardBench bench;
  bench.configuration.shift.resize(1);
  bench.night_s = 10;
  BOOST_CHECK_THROW(static_cast<void>(bench.run()), std::runtime_error);
  bench.night_s = 24 * 3600;
  const ShiftResult after = bench.run();
  BOOST_TEST(after.turns.empty());
  BOOST_TEST(after.rig_lost);
  BOOST_TEST(after.trouble.find("Fellbeck no. 7 was on its way") == 0U, after.trouble);
  const ShiftResult seen_to = bench.run({}, true);
  BOOST_TEST(seen_to.turns.size() == 1U);
  BOOST_TEST(bench.all_at_home());
}

// The power fails while it is measured: it stands on the loop, and its work goes on from there.
BOOST_AUTO_TEST_CASE(a_crash_on_the_loop) {
  YardBench bench;
  bench.configuration.shift.resize(1);
  bench.night_s = 100;
  BOOST_CHECK_THROW(static_cast<void>(bench.run({Work::tune})), std::runtime_error);
  BOOST_TEST(bench.stand->runs.size() == 1U);  // it came out
  bench.stand->note(Left{"Fellbeck", false, false, 0, 0, 3000, 100});
  bench.stand->route = 1;  // and somebody has thrown the turnouts meanwhile: the loop is closed before anything runs
  bench.night_s = 24 * 3600;
  const ShiftResult after = bench.run({Work::tune});
  BOOST_REQUIRE(after.turns.size() == 1U);
  BOOST_TEST((after.turns.front().result.tune.end == TuneEnd::complete), after.turns.front().result.tune.detail);
  BOOST_TEST(after.trouble.empty(), after.trouble);
  BOOST_TEST(bench.all_at_home());
  BOOST_TEST(bench.stand->collisions == 0);
}

BOOST_AUTO_TEST_CASE(turnouts_that_do_not_move_on_the_way_out) {
  YardBench bench;
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string&, simulated::SimulatedRig& rig, double) { rig.jam_turnouts(true); };
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(shift.rig_lost);
  BOOST_REQUIRE(bench.trip.has_value());
  BOOST_TEST(bench.trip->sentence.find("put it back onto its staging track") != std::string::npos,
             bench.trip->sentence);
  BOOST_TEST(bench.queue.moving);
  BOOST_TEST(bench.stand->collisions == 0);
}

// It never left, as its motor drew nothing: its place is its place, and the others go on.
BOOST_AUTO_TEST_CASE(an_engine_that_does_not_hear) {
  YardBench bench;
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string& engine, simulated::SimulatedRig& rig, double) {
      if (engine == "Tarn Lady") rig.lift_engine(true);
    };
  };
  const ShiftResult shift = bench.run();
  BOOST_REQUIRE(shift.turns.size() == 3U);
  BOOST_TEST((shift.turns[1].result.tune.end == TuneEnd::engine_not_found));
  BOOST_TEST(shift.turns[1].result.tune.detail.find("it drew no current") != std::string::npos);
  BOOST_TEST(!shift.turns[1].result.stop.has_value());
  BOOST_TEST(shift.needs_person);
  BOOST_TEST(shift.trouble.empty(), shift.trouble);
  BOOST_TEST(bench.all_at_home());
  BOOST_TEST(bench.queue.ended.size() == 3U);
}

// Something holds it on its way out: nobody knows where, and it drew current.
BOOST_AUTO_TEST_CASE(an_engine_that_is_held_on_its_way_out) {
  YardBench bench;
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string&, simulated::SimulatedRig& rig, double) {
      if (rig.distance_mm() > 300) rig.hold_engine(true);
    };
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(shift.rig_lost);
  BOOST_TEST(bench.trip.has_value());
  BOOST_TEST(bench.queue.moving);
}

// By the rule the shift goes on without an engine that has tripped on the loop; a person has to put it away first.
BOOST_AUTO_TEST_CASE(an_engine_left_dead_on_the_loop) {
  YardBench bench;
  bench.leave = {{"stalled"}, 2};
  bench.person = true;
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string& engine, simulated::SimulatedRig& rig, double since_s) {
      const bool on_the_loop = rig.railway().yard()->route() == 0;
      if (engine == "Fellbeck" && on_the_loop && since_s > 60) rig.hold_engine(true);
    };
  };
  bench.asked = [&bench](const std::string&) {
    bench.stand->put_away("Fellbeck");
    BOOST_TEST(bench.hand_over.ready("").empty());
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 3U);
  BOOST_REQUIRE(shift.turns.front().result.stop.has_value());
  BOOST_TEST(code(shift.turns.front().result.stop->reason) == "stalled");
  BOOST_TEST(shift.trouble.empty(), shift.trouble);
  BOOST_REQUIRE(bench.waits.size() == 1U);
  BOOST_TEST(bench.waits.front().find("waiting for a free loop for Tarn Lady no. 3") == 0U, bench.waits.front());
  BOOST_TEST(bench.stand->collisions == 0);
  BOOST_TEST(bench.queue.left_out == 1);
}

// It trips in the middle of its work, a person puts it back and clears: it comes out again, and goes on where it was.
BOOST_AUTO_TEST_CASE(cleared_is_put_back) {
  YardBench bench;
  bench.configuration.shift.resize(1);
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string&, simulated::SimulatedRig& rig, double since_s) {
      if (rig.railway().yard()->route() == 0 && since_s > 60) rig.hold_engine(true);
    };
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.rig_lost);
  BOOST_TEST(bench.queue.on_track == "Fellbeck no. 7");
  bench.stand->misfortune = {};
  bench.stand->put_away("Fellbeck");
  const ShiftResult after = bench.run({}, true);
  BOOST_REQUIRE(after.turns.size() == 1U);
  BOOST_TEST((after.turns.front().result.tune.end == TuneEnd::complete), after.turns.front().result.tune.detail);
  BOOST_TEST(bench.all_at_home());
}

BOOST_AUTO_TEST_CASE(nobody_is_there_to_put_it_away) {
  YardBench bench;
  bench.leave = {{"stalled"}, 2};
  bench.before_it_lives = [](YardStand& stand) {
    stand.misfortune = [](const std::string&, simulated::SimulatedRig& rig, double since_s) {
      if (rig.railway().yard()->route() == 0 && since_s > 60) rig.hold_engine(true);
    };
  };
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(shift.rig_lost);
  BOOST_TEST(shift.trouble.find("can't come out before it is put away") != std::string::npos, shift.trouble);
  BOOST_TEST(bench.stand->collisions == 0);
}

// A decoder that was reset stands in its place and hears to the factory's address.
BOOST_AUTO_TEST_CASE(a_reset_decoder_is_called_out_at_the_factory_address) {
  YardBench bench;
  bench.configuration.shift.resize(1);
  BOOST_TEST(bench.run({Work::tune}).turns.size() == 1U);
  std::map<int, std::uint8_t>& decoder = bench.stand->decoders["Fellbeck"];
  simulated::DecoderDescription factory = bench.configuration.rig.engines.front().decoder;
  factory.cvs.clear();
  const simulated::Decoder fresh(factory);
  for (int number = 1; number <= 256; ++number) decoder[number] = fresh.cv(number);
  BOOST_TEST(int{decoder[1]} == 3);
  const ShiftResult shift = bench.run({Work::restore});
  BOOST_REQUIRE(shift.turns.size() == 1U);
  BOOST_TEST((shift.turns.front().result.tune.end == TuneEnd::complete), shift.turns.front().result.tune.detail);
  BOOST_TEST(int{decoder[1]} == 7);
  BOOST_TEST(bench.all_at_home());
}

// What is left of its day for running is kept for the way home.
BOOST_AUTO_TEST_CASE(a_cap_on_running_leaves_time_to_go_home) {
  YardBench bench;
  bench.configuration.shift.resize(1);
  bench.configuration.caps.day_s = 800;
  const ShiftResult shift = bench.run({Work::tune});
  BOOST_REQUIRE(shift.turns.size() == 1U);
  BOOST_REQUIRE(shift.turns.front().result.stop.has_value());
  BOOST_TEST(code(shift.turns.front().result.stop->reason) == "running-time");
  BOOST_TEST(shift.trouble.empty(), shift.trouble);
  BOOST_TEST(bench.all_at_home());
}

// The allowed hours end with the engine on the loop: it goes on the next night, and goes home.
BOOST_AUTO_TEST_CASE(no_engine_goes_home_when_the_hours_are_about_to_end) {
  YardBench bench;
  bench.configuration.shift.resize(2);
  constexpr int day_min = 24 * 60;
  const std::time_t now = YardBench::stands_still_at;
  const std::tm local = *std::localtime(&now);
  const int minutes = 60 * local.tm_hour + local.tm_min;
  const HourWindow nearly_over{(minutes + day_min - 60) % day_min, (minutes + 6) % day_min};
  bench.configuration.hours = AllowedHours({nearly_over});
  const ShiftResult shift = bench.run();
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(bench.queue.on_track == "Fellbeck no. 7");
  BOOST_TEST(!bench.queue.moving);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::yard
