// A whole tune through the protocols: LCC station and trackside board as drivers, their simulated ends, bytes between.
#include <algorithm>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/test/unit_test.hpp>
#include <cmath>

#include "drivers/lcc/lcc_station.h"
#include "drivers/simulated/served/board_end.h"
#include "drivers/simulated/served/lcc_end.h"
#include "drivers/wired_rig.h"
#include "tests/shifts/plans.h"
#include "tuning/cv.h"

namespace lapwright::shifts {
namespace {

namespace asio = boost::asio;

constexpr Duration tick = std::chrono::milliseconds(5);  // of both wires: a step of the whole bench
const std::vector<std::pair<std::string, std::string>> board_settings = {{"gates", "2"}, {"trip_mA", "2000"}};

class Unheard final : public TuneObserver {
 public:
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
};

/// One end of a wire: what is sent waits until the next tick.
struct Wire final : Outlet {
  void send(std::string_view bytes) override { waiting += bytes; }
  void send_first(std::string_view bytes) override { waiting.insert(0, bytes); }
  void cut_in(std::string_view bytes) override { waiting = bytes; }
  void give_up(const std::string& why) override { given_up = why; }
  std::string waiting, given_up;
};

lcc::StationSettings station_settings() {
  lcc::StationSettings settings;
  settings.node.id = lcc::NodeId::parse("05.01.01.01.22.01").value();
  settings.packet_steps = 28;
  return settings;
}

/// The rig of a plan behind wires, and the drivers before them.
struct WiredNight {
  explicit WiredNight(Plan given, bool bit_writes = true)
      : plan(std::move(given)), station_habits{with_address(plan.engine.address, bit_writes)} {
    rig.set_power(false);
  }
  /// The track is live where both the station and the relay let it.
  void switch_track() {
    const bool live = station_end.powered() && board_end.relay_closed();
    if (live != rig.railway().power()) rig.set_power(live);
  }
  asio::awaitable<void> wires() {
    while (!over) {
      board_end.hear(std::exchange(to_board.waiting, {}));
      station_end.hear(std::exchange(to_station.waiting, {}));
      board_end.sample(rig.track_current_mA().value_or(0));
      board_end.tick();
      wired.vouch();
      if (!from_board.empty()) board.received(std::exchange(from_board, {}), clock.now());
      if (!from_station.empty()) station.node().received(std::exchange(from_station, {}), clock.now());
      co_await clock.sleep_for(tick);
    }
  }
  asio::awaitable<void> gates() {
    while (!over) {
      const Instant soon = clock.now() + std::chrono::milliseconds(100);
      const std::optional<GateEdge> edge = co_await rig.next_edge(soon);
      if (edge) board_end.edge(edge->gate + 1, edge->blocked, rig.age(*edge));
    }
  }
  asio::awaitable<void> work() {
    co_await clock.sleep_for(std::chrono::seconds(1));
    const dcc::VehicleAddress address = plan.engine.address > 127
                                            ? dcc::VehicleAddress::long_form(plan.engine.address)
                                            : dcc::VehicleAddress::short_form(plan.engine.address);
    co_await station.take(address);
    co_await wired.set_power(true);
    result = co_await tune(wired, clock, plan.order, ledger, unheard);
    co_await station.give_back();
    co_await wired.set_power(false);
    dead = !rig.railway().power();
    over = true;
    station.stop();
    station_end.stop();
    board.stop();
    rig.stop();
  }
  void run() {
    asio::io_context context;
    const auto rethrow = [](const std::exception_ptr& failure) {
      if (failure) std::rethrow_exception(failure);
    };
    board_end.boot('p');
    board.opened(to_board);
    station.node().opened(to_station);
    asio::co_spawn(context, rig.run(), rethrow);
    asio::co_spawn(context, wires(), rethrow);
    asio::co_spawn(context, gates(), [](const std::exception_ptr&) {});  // ends with the rig, which says so by a fault
    asio::co_spawn(context, station_end.run(), rethrow);
    asio::co_spawn(context, station.run(), rethrow);
    asio::co_spawn(context, board.run(), rethrow);
    asio::co_spawn(context, work(), rethrow);
    BOOST_TEST((clock.run(context, seconds(7200)) == VirtualClock::Outcome::finished));
  }

  /// Largest error of what is called proved, by the railway's noise-free steady speed, as a share of tolerance.
  double worst_proof() {
    const simulated::Track& track = rig.railway().track();
    const simulated::Reference over{track.gates_mm()[0], track.gates_mm()[1]};
    simulated::Truth truth(plan.engine, track, rig.railway().track_volts(), over);
    simulated::Decoder alone = rig.decoder();
    alone.set_cv(cv::consist_address, 0);
    double worst = 0;
    for (const CellResult& cell : result.cells) {
      if (cell.verdict != Verdict::proved) continue;
      const ThrottleCommand command{cell.step, cell.direction, plan.order.mode};
      worst = std::max(worst, std::abs(truth.speed_mm_s(alone, command) - cell.target_mm_s) / cell.tolerance_mm_s);
    }
    return worst;
  }

  Plan plan;
  simulated::LccEndSettings station_habits;
  VirtualClock clock;
  simulated::SimulatedRig rig{plan.railway, plan.engine, clock, plan.seed};
  Wire to_board, to_station;
  std::string from_board, from_station;
  simulated::LccEnd station_end{rig, station_habits, [this](std::string_view bytes) { from_station += bytes; },
                                [this] { switch_track(); }};
  simulated::BoardEnd board_end{identity(), clock, [this](std::string_view bytes) { from_board += bytes; },
                                [this](bool) { switch_track(); }};
  lcc::LccStation station{station_settings(), clock};
  trackside::Board board{trackside::BoardWish{"QT-0001", board_settings, {1, 2}}, clock};
  WiredRig wired{station, board, &board};
  CvLedger ledger;
  Unheard unheard;
  TuneResult result;
  bool over = false, dead = false;

  static simulated::BoardIdentity identity() {
    simulated::BoardIdentity result;
    result.settings = board_settings;
    return result;
  }
  static simulated::LccEndSettings with_address(int address, bool bit_writes) {
    simulated::LccEndSettings result;
    result.address = address;
    result.bit_writes = bit_writes;
    return result;
  }
};

}  // namespace

BOOST_AUTO_TEST_SUITE(protocols)

BOOST_AUTO_TEST_CASE(a_tune_over_wires_ends_as_one_without) {
  const Plan plan = loop_night(from_shed("fellbeck"), 131);
  Night direct(plan);
  direct.tune();
  WiredNight night(plan);
  night.run();
  BOOST_TEST((night.result.end == TuneEnd::complete), night.result.detail);
  BOOST_TEST(night.dead);
  const auto proved = [](const TuneResult& result) {
    return std::count_if(result.cells.begin(), result.cells.end(),
                         [](const CellResult& cell) { return cell.verdict == Verdict::proved; });
  };
  BOOST_TEST(proved(night.result) >= proved(direct.result()) - 1);
  BOOST_TEST(night.worst_proof() < 1);
  BOOST_TEST(night.result.track_s < 1.25 * direct.result().track_s);
  BOOST_TEST(night.to_board.given_up == "");
  BOOST_TEST(night.to_station.given_up == "");
}

/// The decoder does not answer, and the station writes whole bytes only: the other bits of CV29 have to be known.
BOOST_AUTO_TEST_CASE(a_station_without_single_bits) {
  Plan plan = loop_night(plain_engine(), 132);
  plan.engine.decoder.cvs[cv::configuration] = 0x02;  // the table is off as found
  plan.order.known_cvs[cv::configuration] = 0x02;
  WiredNight stated(plan, false);
  stated.run();
  BOOST_TEST((stated.result.end == TuneEnd::complete), stated.result.detail);
  BOOST_TEST(stated.rig.decoder().cv(cv::configuration) == 0x12);
  plan.order.known_cvs.erase(cv::configuration);
  WiredNight unknown(plan, false);
  unknown.run();
  BOOST_TEST((unknown.result.end == TuneEnd::table_not_enabled));
  BOOST_TEST(unknown.result.detail.find("add its CV29 to the engine's record") != std::string::npos);
  BOOST_TEST(unknown.dead);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright::shifts
