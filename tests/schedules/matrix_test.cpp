// Every kind of fault by itself, while the engine is looked for, probed and measured: what the job ends by, and that
// the rails were dead in time (`judge.h`). Each line is a row of the README's table or of the limits.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <set>
#include <string>
#include <vector>

#include "tests/schedules/trial.h"

namespace lapwright::schedules {
namespace {

constexpr double lasts_s = 500;
const std::vector<double> moments_s = {6, 14, 22, 31};

struct Row {
  Kind kind;
  std::vector<std::string> ends;  ///< what the job may end by
  bool demands = false;           ///< the rails have to go dead because of it, each time
  double begins_s = 0;            ///< moments before that are left out
};

const std::vector<Row> rows = {
    {Kind::station_silent, {"rig-lost"}, true},
    {Kind::station_lost, {"rig-lost"}, true},
    {Kind::station_slow, {"tune's end complete", "stopped in order"}},
    {Kind::board_silent, {"rig-lost"}, true},
    {Kind::board_mute, {"rig-lost"}, true},
    {Kind::board_lost, {"rig-lost"}, true},
    {Kind::short_circuit, {"over-current"}, true},
    {Kind::sensor_dead, {"no-sensor"}, true},
    {Kind::sensor_at_top, {"over-current"}, true},
    {Kind::sensor_at_zero, {"no-sensor"}},
    {Kind::host_late, {"host-late"}, true},
    {Kind::host_killed, {"host-late"}, true},
    {Kind::halt_pressed, {"stop-asked"}, true},
    {Kind::stop_pressed, {"stopped in order"}},
    {Kind::hand, {"moved-at-rest"}, true},
    {Kind::motor_stalled, {"stalled", "no-passage", "mean-current"}},
    // A decoder off the rails takes no writes, and gives none away: the tune may end by one of them.
    {Kind::engine_lifted, {"stalled", "no-passage", "tune's end cv_refused", "tune's end rig_fault"}},
    // Before that the tune itself writes the table while the engine has not run a lap.
    {Kind::engine_races, {"overspeed"}, false, 10},
    {Kind::decoder_reset, {"stalled", "overspeed", "wrong-way"}},
    {Kind::writes_refused, {"tune's end cv_refused"}},
    // One gate sees the laps as well.
    {Kind::gate_dead, {"stalled", "no-passage", "tune's end complete"}},
    {Kind::gate_chatters, {"gate-order", "overspeed"}},
    // Three edges of ten: the engine may be looked for until somebody stops that.
    {Kind::edges_missed, {"tune's end complete", "stopped in order"}},
    // Two ways lead to dead rails, and one of them is left: `trial.cpp` sees that they are dead at the end.
    {Kind::power_off_ignored, {"tune's end complete"}},
    {Kind::relay_welded, {"tune's end complete"}},
    // While it is measured it is never told to stand for longer than it may coast; at the end the power goes.
    {Kind::stop_ignored, {"tune's end complete"}},
    {Kind::commands_doubled, {"tune's end complete"}},
};

Schedule with_one_fault(Kind kind, double at_s) {
  Schedule schedule = drawn(1);
  schedule.faults = {Fault{kind, at_s, lasts_s, 0}};
  schedule.stop_s = at_s + 450;
  if (kind != Kind::hand) return schedule;
  schedule.running.continuous_s = at_s;  // a hand is seen where the engine rests
  schedule.running.rest_s = 20;
  return schedule;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(matrix)

BOOST_AUTO_TEST_CASE(no_kind_is_left_out) {
  std::set<Kind> listed;
  for (const Row& row : rows) listed.insert(row.kind);
  BOOST_TEST(static_cast<int>(listed.size()) == kinds);
}

BOOST_AUTO_TEST_CASE(every_fault_by_itself) {
  for (const Row& row : rows) {
    for (const double at_s : moments_s) {
      if (at_s < row.begins_s) continue;
      const Schedule schedule = with_one_fault(row.kind, at_s);
      const Outcome outcome = carried_out(schedule);
      BOOST_TEST_CONTEXT(in_words(schedule) << "\nended by " << outcome.ended_by << " at " << outcome.job_s
                                            << " s, while " << outcome.phase) {
        BOOST_TEST((std::find(row.ends.begin(), row.ends.end(), outcome.ended_by) != row.ends.end()));
        for (const std::string& complaint : outcome.complaints) BOOST_ERROR(complaint);
        for (const Demand& demand : outcome.demands) BOOST_TEST(demand.met());
        BOOST_TEST(!(row.demands && outcome.demands.empty()));
      }
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::schedules
