// The simulated gates and board: exact times for an evenly moving engine, wrap of the counter, and the rates of faults.
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <vector>

#include "drivers/simulated/gate_board.h"

namespace lapwright {
namespace {

using simulated::BoardDescription;
using simulated::EngineDescription;
using simulated::GateBoard;
using simulated::RailwayDescription;
using simulated::Silhouette;
using simulated::Track;

RailwayDescription exact_loop() {
  RailwayDescription railway;
  railway.board = BoardDescription{0, 0, 0, 0.003, 0, 0};
  return railway;
}

/// Moves a made-up engine evenly and collects what the board says.
struct Run {
  RailwayDescription railway = exact_loop();
  EngineDescription engine;
  std::uint64_t seed = 3;
  double dt_s = 0.0009;

  GateBoard board(double start_mm) const {
    const Track track(railway, seed);
    return {railway.board, Silhouette(engine, track, start_mm), seed};
  }
  std::vector<GateEdge> move(GateBoard& board, double from_mm, double speed_mm_s, double length_s) const {
    std::vector<GateEdge> edges;
    double at_mm = from_mm;
    const auto steps = static_cast<long>(length_s / dt_s);
    for (long step = 0; step < steps; ++step) {
      const double next_mm = at_mm + speed_mm_s * dt_s;
      board.watch(static_cast<double>(step) * dt_s, dt_s, at_mm, next_mm);
      at_mm = next_mm;
      while (const auto edge = board.take(static_cast<double>(step + 1) * dt_s)) edges.push_back(*edge);
    }
    return edges;
  }
};

double between_s(const GateEdge& earlier, const GateEdge& later) {
  return 1e-6 * static_cast<double>(later.counter_us - earlier.counter_us);  // unsigned, so the wrap cancels
}

BOOST_FIXTURE_TEST_SUITE(simulated_gates, Run)

BOOST_AUTO_TEST_CASE(times_of_an_even_run_are_exact) {
  GateBoard gates = board(500);
  const auto edges = move(gates, 500, 40, 30);
  BOOST_REQUIRE(edges.size() == 4U);
  const bool expected_blocked[] = {true, true, false, false};  // the engine is longer than the trap
  const int expected_gate[] = {0, 1, 0, 1};
  for (std::size_t i = 0; i < 4; ++i) {
    BOOST_TEST(edges[i].blocked == expected_blocked[i]);
    BOOST_TEST(edges[i].gate == expected_gate[i]);
    BOOST_TEST(edges[i].epoch == edges[0].epoch);
  }
  // The counter floors, so a difference is within one microsecond of base / speed.
  BOOST_TEST(std::abs(between_s(edges[0], edges[1]) - 150.0 / 40) <= 1e-6);
  BOOST_TEST(std::abs(between_s(edges[0], edges[2]) - engine.length_mm / 40) <= 1e-6);
}

BOOST_AUTO_TEST_CASE(reverse_gives_the_mirror_image) {
  GateBoard gates = board(1500);
  const auto edges = move(gates, 1500, -40, 30);
  BOOST_REQUIRE(edges.size() == 4U);
  BOOST_TEST(edges[0].gate == 1);  // the rear end comes first
  BOOST_TEST(edges[0].blocked);
  BOOST_TEST(!edges[3].blocked);
  BOOST_TEST(edges[3].gate == 0);
  BOOST_TEST(std::abs(between_s(edges[2], edges[3]) - 150.0 / 40) <= 1e-6);
}

BOOST_AUTO_TEST_CASE(goes_round_the_loop) {
  GateBoard gates = board(5900);
  const auto edges = move(gates, 5900, 200, 65);  // 13 m: twice past both gates
  BOOST_REQUIRE(edges.size() == 8U);
  BOOST_TEST(std::abs(between_s(edges[0], edges[4]) - railway.length_mm / 200) <= 1e-6);
  GateBoard back = board(100);
  BOOST_TEST(move(back, 100, -200, 65).size() == 8U);
}

BOOST_AUTO_TEST_CASE(turning_on_a_gate_gives_one_edge_each_way) {
  GateBoard gates = board(990);
  BOOST_TEST(move(gates, 990, 40, 0.5).size() == 1U);    // to 1010
  BOOST_TEST(move(gates, 1010, -40, 0.5).size() == 1U);  // and back
  BOOST_TEST(move(gates, 990, 40, 0.5).size() == 1U);
}

BOOST_AUTO_TEST_CASE(openings_give_edges_of_their_own) {
  engine.silhouette = {{2, 80}, {90, 178}};
  GateBoard gates = board(500);
  const auto edges = move(gates, 500, 40, 30);
  BOOST_TEST(edges.size() == 8U);
  const Track track(railway, seed);
  const Silhouette silhouette(engine, track, 500);
  BOOST_TEST(!silhouette.blocked(0, 1001));
  BOOST_TEST(silhouette.blocked(0, 1003));
  BOOST_TEST(!silhouette.blocked(0, 1085));
  BOOST_TEST(silhouette.blocked(0, 1000 + 100 + railway.length_mm));
}

BOOST_AUTO_TEST_CASE(the_counter_wraps_within_a_run) {
  GateBoard gates = board(500);
  const auto edges = move(gates, 500, 300, 440);
  bool wrapped = false;
  for (std::size_t i = 1; i < edges.size(); ++i) {
    wrapped = wrapped || edges[i].counter_us < edges[i - 1].counter_us;
    BOOST_TEST(between_s(edges[i - 1], edges[i]) < 21.0);  // less than a lap
  }
  BOOST_TEST(wrapped);
}

BOOST_AUTO_TEST_CASE(gates_lie_where_they_were_drawn) {
  railway.board.position_error_mm = 2;
  double sum = 0;
  double squares = 0;
  constexpr int draws = 500;
  for (std::uint64_t draw = 0; draw < draws; ++draw) {
    const double off_mm = Track(railway, draw).gates_mm()[0] - 1000;
    sum += off_mm;
    squares += off_mm * off_mm;
  }
  BOOST_TEST(std::abs(sum / draws) < 4 * 2 / std::sqrt(draws));  // four standard errors
  BOOST_TEST(std::sqrt(squares / draws) == 2.0, boost::test_tools::tolerance(0.15));
}

/// Within four binomial standard deviations.
void check_rate(std::uint64_t hits, std::uint64_t trials, double rate) {
  const double n = static_cast<double>(trials);
  BOOST_TEST(std::abs(static_cast<double>(hits) - n * rate) <= 4 * std::sqrt(n * rate * (1 - rate)));
}

BOOST_AUTO_TEST_CASE(faults_come_as_often_as_described) {
  railway.board.miss = 0.03;
  railway.board.twin = 0.05;
  railway.board.stamp_error_s = 0.005;
  dt_s = 0.002;
  GateBoard gates = board(500);
  const auto edges = move(gates, 500, 300, 20000);  // 1000 laps
  BOOST_TEST(gates.changes() > 3900U);
  check_rate(gates.missed(), gates.changes(), 0.03);
  // Half of the twins follow an edge, and a missed edge has none; the others come before one.
  check_rate(gates.twins(), gates.changes(), 0.025 * 0.97 + 0.025);
  BOOST_TEST(edges.size() == gates.changes() - gates.missed() + 2 * gates.twins());
}

BOOST_AUTO_TEST_CASE(stamps_leave_in_order_and_bounce_settles_right) {
  railway.board.bounce = 1;
  railway.board.stamp_error_s = 0.0005;
  GateBoard gates = board(500);
  const auto edges = move(gates, 500, 40, 30);
  BOOST_TEST(edges.size() >= 12U);
  for (std::size_t i = 1; i < edges.size(); ++i) BOOST_TEST(between_s(edges[i - 1], edges[i]) < 1000.0);
  bool blocked[2] = {false, false};
  for (const GateEdge& edge : edges) {
    BOOST_TEST(edge.blocked != blocked[edge.gate]);  // alternates, and
    blocked[edge.gate] = edge.blocked;
  }
  BOOST_TEST(!blocked[0]);  // ends clear, because the engine has left
  BOOST_TEST(!blocked[1]);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
