// Verdicts: nothing proved without its own pass and room for the gates' errors, nothing given up too early.
#include "tuning/proof_sheet.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <initializer_list>
#include <random>

namespace lapwright {
namespace {

constexpr double base_share = 0.0019;  // ±0.28 mm of 150 mm
constexpr double long_warm_s = 3000;

std::vector<Aim> slow_freight_aims() {
  std::vector<Aim> aims;
  for (int step = 1; step <= 28; ++step) {
    const double speed = 1 + 17.0 * (step - 1) / 27;
    aims.push_back(Aim{step, speed, std::max(0.1, 0.02 * speed), true});
  }
  return aims;
}

/// A synthetic engine, warm: 0.09 units for each count above 10, and a decoder that rounds to `quantum` counts.
struct Engine {
  double per_count = 0.09;
  double quantum = 0;
  double reverse = 1.0;
  double noise = 0.002;
  std::mt19937 luck{3};
  [[nodiscard]] double speed(double drive, Direction direction) const {
    if (quantum > 0) drive = std::round(drive / quantum) * quantum;
    const double speed = per_count * std::max(drive - 10, 0.0);
    return direction == Direction::forward ? speed : reverse * speed;
  }
};

void pass(ProofSheet& sheet, std::size_t place, Engine& engine, double running_s) {
  const Cell& cell = sheet.cells()[place];
  const double drive = sheet.drive_of(cell);
  std::normal_distribution<> normal;
  const double read = engine.speed(drive, cell.direction) * (1 + engine.noise * normal(engine.luck));
  sheet.response().add(Observation{drive, cell.direction, read, running_s, 0.001});
  sheet.cell(place).visited = true;
}

/// As the tune begins: a few probes at those drives, and the table filled from them.
void prepare(ProofSheet& sheet, Engine& engine, const Traits& traits, std::initializer_list<double> drives) {
  sheet.traits() = traits;
  for (const double drive : drives) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      sheet.response().add(Observation{drive, direction, engine.speed(drive, direction), long_warm_s, 0.001});
    }
  }
  sheet.response().refit();
  const CurvePair curves(sheet.response());
  sheet.adopt(choose_settings(traits, curves, sheet.entry_aims()).settings);
}

void prepare(ProofSheet& sheet, Engine& engine, const Traits& traits) {
  prepare(sheet, engine, traits, {200.0, 150.0, 100.0, 60.0, 35.0});
}

/// Of an engine that a few counts drive, with a decoder without trims.
void prepare_coarse(ProofSheet& sheet, Engine& engine) {
  prepare(sheet, engine, Traits{false, false, true}, {70.0, 50.0, 30.0, 20.0});
}

/// Passes until nothing is left to measure. @return how many
int sweep(ProofSheet& sheet, Engine& engine, int at_most) {
  sheet.judge();
  Direction last = Direction::forward;
  int passes = 0;
  while (passes < at_most) {
    const auto place = sheet.next(last, 30);
    if (!place) break;
    last = sheet.cells()[*place].direction;
    pass(sheet, *place, engine, long_warm_s + 15 * passes);
    ++passes;
    if (passes % 8 == 0) sheet.response().refit();
    sheet.improve_entries();
    sheet.judge();
  }
  return passes;
}

/// Within a count, which is what a decoder may round to.
bool passed_nearby(const ProofSheet& sheet, const Cell& cell) {
  const double drive = sheet.drive_of(cell);
  const auto seen = sheet.response().observations();
  return std::any_of(seen.begin(), seen.end(), [&](const Observation& pass) {
    return pass.direction == cell.direction && std::abs(pass.drive - drive) <= 1;
  });
}

void check_proved_cells(const ProofSheet& sheet) {
  for (const Cell& cell : sheet.cells()) {
    if (cell.verdict != Verdict::proved) continue;
    const Aim& aim = sheet.aim(cell);
    BOOST_TEST(cell.own_passes > 0);
    // Derived: 95 % inside means that the one-sided 95 % bound (1.645 sd) towards the nearer limit lies inside, with
    // the base's error taken off the tolerance first.
    const double room = aim.tolerance - aim.speed * base_share;
    BOOST_TEST(std::abs(cell.estimate.mean - aim.speed) + 1.64 * cell.estimate.sd <= room,
               "step " << aim.step << " is called proved too early");
  }
}

const Traits trims{true, false, true};

}  // namespace

BOOST_AUTO_TEST_SUITE(proof_sheet)

BOOST_AUTO_TEST_CASE(two_cells_for_each_step_to_be_proved) {
  std::vector<Aim> aims = slow_freight_aims();
  aims[4].prove = false;
  const ProofSheet sheet(StepMode::steps28, aims, 0.95, base_share);
  BOOST_TEST(sheet.cells().size() == 54u);
  BOOST_TEST(sheet.settled_cells() == 0);
}

BOOST_AUTO_TEST_CASE(a_perfect_curve_proves_nothing_without_a_pass) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  for (int i = 0; i < 20; ++i) {  // far more evidence, at drives that no step uses
    const double drive = 21.37 + 9 * i;
    sheet.response().add(Observation{drive, Direction::forward, engine.speed(drive, Direction::forward), 4000, 0.001});
    sheet.response().add(Observation{drive, Direction::reverse, engine.speed(drive, Direction::reverse), 4000, 0.001});
  }
  sheet.response().refit();
  for (const bool final_word : {false, true}) {
    sheet.judge(final_word);
    int without = 0;
    for (const Cell& cell : sheet.cells()) {
      if (passed_nearby(sheet, cell)) continue;
      ++without;
      BOOST_TEST(cell.chance > 0.5);  // the curve knows very well that it is right …
      BOOST_TEST(cell.own_passes == 0);
      BOOST_TEST((cell.verdict == Verdict::not_measured));  // … and that is no proof
    }
    BOOST_TEST(without > 20);
  }
}

BOOST_AUTO_TEST_CASE(a_good_engine_is_proved_with_about_a_pass_for_each_cell) {
  Engine engine;
  engine.reverse = 0.98;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  const int passes = sweep(sheet, engine, 300);
  BOOST_TEST(passes >= 50);  // a probe may have been made at a step's own drive
  BOOST_TEST(passes <= 100);
  for (const Cell& cell : sheet.cells()) {
    BOOST_TEST((cell.verdict == Verdict::proved), "step " << sheet.aim(cell).step);
    const double truth = engine.speed(sheet.drive_of(cell), cell.direction);
    BOOST_TEST(std::abs(truth - sheet.aim(cell).speed) <= sheet.aim(cell).tolerance);
  }
  check_proved_cells(sheet);
  BOOST_TEST(sheet.settled_cells() == 56);
  for (std::size_t i = 1; i < 28; ++i) BOOST_TEST(sheet.settings().table[i] >= sheet.settings().table[i - 1]);
}

BOOST_AUTO_TEST_CASE(a_base_that_is_not_known_well_proves_nothing) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, 0.025);  // 2.5 % of speed, tolerance is 2 %
  prepare(sheet, engine, trims);
  for (std::size_t place = 0; place < sheet.cells().size(); ++place) pass(sheet, place, engine, long_warm_s);
  sheet.judge();
  for (const Cell& cell : sheet.cells()) {
    if (sheet.aim(cell).speed * 0.025 > sheet.aim(cell).tolerance) BOOST_TEST((cell.verdict != Verdict::proved));
  }
}

BOOST_AUTO_TEST_CASE(a_bad_reading_alone_is_no_verdict) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  engine.noise = 0.05;  // 5 % from pass to pass: far wider than the tolerance
  sheet.judge();
  int proved_at_once = 0;
  for (std::size_t place = 0; place < sheet.cells().size(); ++place) pass(sheet, place, engine, long_warm_s);
  sheet.response().refit();
  sheet.judge();
  for (const Cell& cell : sheet.cells()) proved_at_once += cell.verdict == Verdict::proved ? 1 : 0;
  BOOST_TEST(proved_at_once < 28);
  check_proved_cells(sheet);
}

BOOST_AUTO_TEST_CASE(coarse_decoder_ends_with_best_attainable) {
  Engine engine;
  engine.per_count = 0.30;  // one count is 0.3 units, the tolerance ±0.1: many targets fall between values
  engine.noise = 0.001;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare_coarse(sheet, engine);
  const int passes = sweep(sheet, engine, 400);
  BOOST_TEST(passes < 400);  // settles by itself
  sheet.judge(true);
  int best = 0;
  for (const Cell& cell : sheet.cells()) {
    const Aim& aim = sheet.aim(cell);
    const int value = sheet.settings().table[static_cast<std::size_t>(aim.step - 1)];
    const auto error = [&](int other) { return std::abs(engine.speed(other, cell.direction) - aim.speed); };
    BOOST_TEST((cell.verdict != Verdict::not_measured));
    if (cell.verdict == Verdict::proved) BOOST_TEST(error(value) <= aim.tolerance);
    if (cell.verdict != Verdict::best_attainable) continue;
    ++best;
    BOOST_TEST((cell.shortfall != Shortfall::none));
    BOOST_TEST(error(value) <= std::min(error(value - 1), error(value + 1)) + 0.01,
               "step " << aim.step << ": a neighbour of " << value << " is closer");
  }
  BOOST_TEST(best > 5);
}

// Else another night may prove it.
BOOST_AUTO_TEST_CASE(best_attainable_of_an_uneven_engine_is_surely_out_of_tolerance) {
  int best = 0;
  for (const double noise : {0.001, 0.02}) {
    Engine engine;
    engine.per_count = 1.2;
    engine.noise = noise;
    ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
    prepare_coarse(sheet, engine);
    sweep(sheet, engine, 100);
    sheet.judge(true);
    for (const Cell& cell : sheet.cells()) {
      if (cell.verdict != Verdict::best_attainable) continue;
      ++best;
      if (cell.shortfall != Shortfall::repeatability) continue;
      const Aim& aim = sheet.aim(cell);
      BOOST_TEST(std::abs(cell.estimate.mean - aim.speed) - 3 * cell.estimate.sd > aim.tolerance, "step " << aim.step);
    }
  }
  BOOST_TEST(best > 5);
}

BOOST_AUTO_TEST_CASE(a_better_neighbour_is_tried_before_best_attainable) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  DriveSettings off = sheet.settings();
  for (int& value : off.table) value = std::min(value + 6, 255);  // all too fast
  sheet.adopt(off);
  for (std::size_t place = 0; place < sheet.cells().size(); ++place) pass(sheet, place, engine, long_warm_s);
  sheet.response().refit();
  sheet.judge();
  for (const Cell& cell : sheet.cells()) BOOST_TEST((cell.verdict != Verdict::best_attainable));
}

BOOST_AUTO_TEST_CASE(one_stall_is_none_and_two_are_the_floor) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  sheet.note_stall(0);
  sheet.judge();
  BOOST_TEST((sheet.cells()[0].verdict == Verdict::not_measured));
  BOOST_TEST(sheet.slow_end().floor(Direction::forward) < 0);
  sheet.note_stall(0);
  sheet.judge();
  BOOST_TEST((sheet.cells()[0].verdict == Verdict::failed));
  BOOST_TEST((sheet.cells()[0].shortfall == Shortfall::floor));
  BOOST_TEST(sheet.slow_end().floor(Direction::forward) >= 0);
  const int before = sheet.settings().table[0];
  sheet.improve_entries();  // away from the floor
  BOOST_TEST(sheet.settings().table[0] > before);
}

BOOST_AUTO_TEST_CASE(the_lowest_step_ends_where_the_engine_was_seen_to_run) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  sheet.note_stall(0);
  sheet.note_stall(0);
  sheet.judge();
  sheet.improve_entries();  // half way between what stalled and what ran: nobody has seen it run there
  double slowest = 255;
  for (const Observation& seen : sheet.response().observations()) slowest = std::min(slowest, seen.drive);
  BOOST_TEST(sheet.drive_at(1, Direction::forward) < slowest);
  sheet.keep_to_what_ran();
  const DriveSettings& settings = sheet.settings();
  BOOST_TEST(sheet.drive_at(1, Direction::forward) >= slowest - 1e-9);
  BOOST_TEST(sheet.drive_at(1, Direction::reverse) >= slowest - 1e-9);
  BOOST_TEST(std::is_sorted(settings.table.begin(), settings.table.end()));
  BOOST_TEST(sheet.cells()[0].stalls == 0);  // of another value
  // Even that is too fast, for the lowest step as for the next, and the reason is told.
  for (std::size_t place = 0; place < 4; ++place) pass(sheet, place, engine, long_warm_s + 10);
  sheet.judge(true);
  for (std::size_t place = 0; place < 4; ++place) {
    BOOST_TEST((sheet.cells()[place].verdict == Verdict::failed), "place " << place);
    BOOST_TEST((sheet.cells()[place].shortfall == Shortfall::floor), "place " << place);
  }
}

BOOST_AUTO_TEST_CASE(stall_where_the_engine_has_run_slower_is_no_floor) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  const std::size_t fast = 54;  // step 28: slower drives were measured
  sheet.note_stall(fast);
  sheet.note_stall(fast);
  BOOST_TEST(sheet.slow_end().floor(Direction::forward) < 0);
}

BOOST_AUTO_TEST_CASE(one_slow_step_scouts_then_the_fastest_come_first) {
  Engine engine;
  ProofSheet sheet(StepMode::steps28, slow_freight_aims(), 0.95, base_share);
  prepare(sheet, engine, trims);
  sheet.judge();
  const auto scout = sheet.next(Direction::forward, 30);
  BOOST_REQUIRE(scout);
  BOOST_TEST(sheet.aim(sheet.cells()[*scout]).speed < 2.5);
  BOOST_TEST((sheet.cells()[*scout].direction == Direction::reverse));  // turning back is the cheaper way
  BOOST_TEST(!sheet.slow_end_tried());
  for (std::size_t place = 0; place < sheet.cells().size(); ++place) {
    if (sheet.cells()[place].aim == sheet.cells()[*scout].aim) pass(sheet, place, engine, long_warm_s);
  }
  sheet.judge();
  BOOST_TEST(sheet.slow_end_tried());
  const auto place = sheet.next(Direction::forward, 30);
  BOOST_REQUIRE(place);
  BOOST_TEST(sheet.aim(sheet.cells()[*place]).step == 28);
  BOOST_TEST((sheet.cells()[*place].direction == Direction::reverse));
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
