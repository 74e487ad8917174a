// A shift of 24 invented engines, six of them in trouble: every one comes to the verdict that is right for it, by the
// truth of the simulated railway, and none keeps the others from theirs.
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <fstream>
#include <sstream>

#include "daemon/shift.h"
#include "drivers/simulated/decoder.h"
#include "drivers/virtual_clock.h"
#include "tests/fixed_calendar.h"
#include "tests/fleet/troubled_stand.h"
#include "tests/temporary_folder.h"
#include "tuning/cv.h"

namespace lapwright::fleet {
namespace {

constexpr double night_s = 40 * 3600;
constexpr double as_good_as_in = 1.0;  // tolerances; of a step called proved
constexpr double truly_out = 0.8;      // of a step called out of reach: its other direction may be in

struct Night {
  explicit Night(std::vector<Member> fleet = roster())
      : configuration(load_configuration(LAPWRIGHT_CONFIGS "/demo.json")),
        members(std::move(fleet)),
        stand(configuration.rig, clock, members) {
    configuration.reports = folder.path() / "reports";
    configuration.caps.shift_s = night_s;
    configuration.rig.engines.clear();
    for (const Member& member : members) configuration.rig.engines.push_back(member.engine);
  }
  [[nodiscard]] ShiftEntry entry(const Member& member, Work work) const {
    return {write_record(folder.path(), member.engine), LAPWRIGHT_CONFIGS "/sheets/notched_freight.json", work};
  }
  ShiftResult run(const std::vector<ShiftEntry>& entries) {
    configuration.shift = entries;
    const std::vector<Job> jobs = plan_shift(configuration);
    Shift shift{configuration.railway, planner_among(jobs), configuration.limits, AllowedHours(),
                configuration.reports};
    shift.leave = leave;
    ShiftMemory memory(storage, folder.path(), calendar, configuration.caps, configuration.retry);
    Journal journal(storage, worker, folder.path() / "journal", calendar);
    ShiftBook book(journal, calendar);
    book.begin(jobs);
    StopButton button;
    ShiftObservers nobody({});
    boost::asio::io_context context;
    std::optional<ShiftResult> outcome;
    const ShiftMeans means{stand, clock, calendar, memory, book, button, nobody};
    boost::asio::co_spawn(context, run_shift(shift, means), [&](const std::exception_ptr& failure, ShiftResult result) {
      if (failure) std::rethrow_exception(failure);
      outcome = std::move(result);
    });
    BOOST_REQUIRE((clock.run(context, seconds(night_s)) == VirtualClock::Outcome::finished));
    queue = book.queue();
    ended = book.ended();
    trip = memory.trip();
    return outcome.value();
  }
  void reset_decoder(const Member& member) {
    simulated::DecoderDescription description = member.engine.decoder;
    description.cvs.clear();
    const simulated::Decoder factory(description);
    for (int number = 1; number <= 256; ++number) {
      stand.decoders[member.engine.road_number][number] = factory.cv(number);
    }
  }
  /// How far off its target the cell truly is, in tolerances.
  [[nodiscard]] double true_error(const Member& member, const CellResult& cell) const {
    const double speed_mm_s = stand.truth.at(member.engine.road_number).at({cell.step, cell.direction});
    return std::abs(speed_mm_s - cell.target_mm_s) / cell.tolerance_mm_s;
  }
  /// Tuned to its end, and what it says of each step is true.
  void is_truly_tuned(const Member& member, const ShiftTurn& turn, int fewest_proved) const {
    BOOST_TEST((turn.result.tune.end == TuneEnd::complete), turn.result.tune.detail);
    BOOST_TEST(!needs_person(turn.result));
    int proved = 0;
    for (const CellResult& cell : turn.result.tune.cells) {
      const double error = true_error(member, cell);
      if (cell.verdict == Verdict::proved) BOOST_TEST(error <= as_good_as_in, "step " << cell.step);
      if (cell.verdict == Verdict::best_attainable) BOOST_TEST(error > truly_out, "step " << cell.step);
      proved += cell.verdict == Verdict::proved ? 1 : 0;
    }
    BOOST_TEST(turn.result.tune.cells.size() ==
               (turn.result.work == Work::restore ? 8U : 16U));  // four steps, or eight
    BOOST_TEST(proved >= fewest_proved);
    for (const int number : {cv::acceleration, cv::deceleration}) {
      const std::map<int, std::uint8_t> first = member.engine.addressed_decoder().cvs;
      const auto held = first.find(number);
      const int wanted = held == first.end() ? 0 : held->second;
      BOOST_TEST(int{stand.decoders.at(member.engine.road_number).at(number)} == wanted, "CV" << number);
    }
  }

  TemporaryFolder folder;
  Configuration configuration;
  VirtualClock clock;
  std::vector<Member> members;
  TroubledStand stand;
  FixedCalendar calendar;
  RealStorage storage;
  InlineWorker worker;
  LeaveRule leave = {{"stalled", "over-current"}, 3};
  QueueStory queue;  ///< at the end
  bool ended = false;
  std::optional<Trip> trip;
};

void is_right(const Night& night, const Member& member, const ShiftTurn& turn) {
  const JobResult& result = turn.result;
  switch (member.trouble) {
    case Trouble::none:
    case Trouble::dirty_gate:
      night.is_truly_tuned(member, turn, 14);
      break;
    case Trouble::coarse:
      night.is_truly_tuned(member, turn, 4);
      BOOST_TEST(std::any_of(result.tune.cells.begin(), result.tune.cells.end(),
                             [](const CellResult& cell) { return cell.verdict == Verdict::best_attainable; }));
      break;
    case Trouble::stalls:
      BOOST_REQUIRE(result.stop.has_value());
      BOOST_TEST(code(result.stop->reason) == "stalled");
      BOOST_TEST(result.stop->sentence.find("between gate") != std::string::npos, result.stop->sentence);
      break;
    case Trouble::shorts:
      BOOST_REQUIRE(result.stop.has_value());
      BOOST_TEST(code(result.stop->reason) == "over-current");
      break;
    case Trouble::wrong_engine:
      BOOST_TEST((result.tune.end == TuneEnd::other_decoder));
      BOOST_TEST(result.tune.writes == 0);
      break;
    case Trouble::reset:
      BOOST_TEST(int{night.stand.decoders.at(member.engine.road_number).at(cv::address)} == member.engine.address);
      night.is_truly_tuned(member, turn, 7);
      break;
  }
}

}  // namespace

BOOST_AUTO_TEST_SUITE(fleet)

BOOST_AUTO_TEST_CASE(twenty_four_engines_and_six_troubles) {
  Night night;
  std::vector<ShiftEntry> before;
  std::vector<ShiftEntry> all;
  for (const Member& member : night.members) {
    if (member.was_tuned()) before.push_back(night.entry(member, Work::tune));
    all.push_back(night.entry(member, member.work()));
  }
  const ShiftResult first = night.run(before);
  BOOST_REQUIRE(first.turns.size() == before.size());
  BOOST_TEST(!first.needs_person);
  for (const Member& member : night.members) {
    if (member.trouble == Trouble::reset) night.reset_decoder(member);
  }
  night.stand.in_trouble = true;
  const ShiftResult shift = night.run(all);
  BOOST_REQUIRE(shift.turns.size() == 24U);
  BOOST_TEST(shift.needs_person);
  BOOST_TEST(shift.trouble.empty(), shift.trouble);
  BOOST_TEST(night.ended);
  BOOST_TEST(!night.trip.has_value());
  BOOST_TEST(night.queue.left_out == 2);
  BOOST_TEST(night.stand.cleared == 2);
  for (std::size_t place = 0; place < night.members.size(); ++place) {
    const Member& member = night.members[place];
    BOOST_TEST_CONTEXT(member.engine.name) {
      BOOST_REQUIRE(title(shift.turns[place].job.record) == member.engine.name + " no. " + member.engine.road_number);
      is_right(night, member, shift.turns[place]);
    }
  }
  std::ostringstream page;
  page << std::ifstream(night.configuration.reports / "morning-page.html").rdbuf();
  for (const Member& member : night.members) BOOST_TEST(page.str().find(member.engine.name) != std::string::npos);
}

// The third engine that trips waits for a person, and the rest of the shift with it.
BOOST_AUTO_TEST_CASE(no_more_engines_are_left_out_than_the_rule_says) {
  std::vector<Member> unlucky = roster();
  unlucky.resize(5);
  for (Member& member : unlucky) member.trouble = Trouble::shorts;
  Night night(unlucky);
  night.leave = {{"over-current"}, 2};
  night.stand.in_trouble = true;
  std::vector<ShiftEntry> entries;
  for (const Member& member : unlucky) entries.push_back(night.entry(member, Work::tune));
  const ShiftResult shift = night.run(entries);
  BOOST_TEST(shift.turns.size() == 3U);
  BOOST_TEST(shift.rig_lost);
  BOOST_TEST(!night.ended);
  BOOST_TEST(night.queue.waiting.size() == 3U);
  BOOST_TEST(night.queue.left_out == 2);
  BOOST_REQUIRE(night.trip.has_value());
  BOOST_TEST(night.trip->code == "over-current");
  BOOST_TEST(night.trip->engine == "Curlew no. 43");
}

// What is no trip of the engine's own waits for a person, whatever the rule says of others.
BOOST_AUTO_TEST_CASE(a_trip_that_the_rule_does_not_name_is_kept) {
  std::vector<Member> unlucky = roster();
  unlucky.resize(2);
  unlucky.front().trouble = Trouble::shorts;
  Night night(unlucky);
  night.leave = {{"stalled"}, 2};
  night.stand.in_trouble = true;
  const ShiftResult shift = night.run({night.entry(unlucky[0], Work::tune), night.entry(unlucky[1], Work::tune)});
  BOOST_TEST(shift.turns.size() == 1U);
  BOOST_TEST(night.queue.left_out == 0);
  BOOST_TEST(night.trip.has_value());
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::fleet
