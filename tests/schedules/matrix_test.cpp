// Every kind of fault by itself, while the engine is looked for, probed and measured: what the job ends by, and that
// the rails were dead in time (`judge.h`). Each line is a row of the README's table or of the limits.
#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <vector>

#include "tests/schedules/trial.h"

namespace lapwright::schedules {
namespace {

constexpr double lasts_s = 500;
const std::vector<double> moments_s = {6, 14, 22, 31};

struct Row {
  Kind kind;
  std::vector<std::string> ends;  ///< what the job may end by
};

const std::vector<Row> rows = {
    {Kind::station_silent, {"rig-lost"}},
    {Kind::station_lost, {"rig-lost"}},
    {Kind::board_silent, {"rig-lost"}},
    {Kind::board_mute, {"rig-lost"}},
    {Kind::board_lost, {"rig-lost"}},
    {Kind::short_circuit, {"over-current"}},
    {Kind::sensor_dead, {"no-sensor"}},
    {Kind::sensor_at_top, {"over-current"}},
    {Kind::sensor_at_zero, {"no-sensor"}},
    {Kind::host_killed, {"host-late"}},
    {Kind::halt_pressed, {"stop-asked"}},
    {Kind::motor_stalled, {"stalled", "no-passage", "mean-current"}},
    // A decoder off the rails takes no writes, and gives none away: the tune may end by one of them.
    {Kind::engine_lifted, {"stalled", "no-passage", "tune's end cv_refused", "tune's end rig_fault"}},
    // The tune itself may write the table before the engine has run a lap.
    {Kind::engine_races, {"overspeed", "tune's end complete"}},
};

}  // namespace

BOOST_AUTO_TEST_SUITE(matrix)

BOOST_AUTO_TEST_CASE(every_fault_by_itself) {
  for (const Row& row : rows) {
    for (const double at_s : moments_s) {
      Schedule schedule = drawn(1);
      schedule.faults = {Fault{row.kind, at_s, lasts_s, 0}};
      schedule.stop_s = at_s + 450;
      const Outcome outcome = carried_out(schedule);
      BOOST_TEST_CONTEXT(in_words(schedule) << "\nended by " << outcome.ended_by << " at " << outcome.job_s
                                            << " s, while " << outcome.phase) {
        BOOST_TEST((std::find(row.ends.begin(), row.ends.end(), outcome.ended_by) != row.ends.end()));
        for (const std::string& complaint : outcome.complaints) BOOST_ERROR(complaint);
        for (const Demand& demand : outcome.demands) BOOST_TEST(demand.met());
      }
    }
  }
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::schedules
