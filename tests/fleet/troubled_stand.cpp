#include "tests/fleet/troubled_stand.h"

#include <algorithm>
#include <boost/asio/this_coro.hpp>

#include "daemon/background.h"
#include "drivers/simulated/simulated_rig.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright::fleet {
namespace asio = boost::asio;
namespace {

constexpr double trouble_after_s = 100;  // of work
constexpr double short_mA = 4500;
constexpr double dirty_miss = 0.1;
constexpr double dirty_twin = 0.05;
constexpr std::uint8_t other_maker = 0x2A;

/// One member of the fleet on the track, with what is wrong with it.
class TroubledPlacement final : public Placement, public Rig, public TrackPower {
 public:
  TroubledPlacement(const simulated::RailwayDescription& railway, const simulated::EngineDescription& engine,
                    Trouble trouble, std::uint64_t seed, Clock& clock, const asio::any_io_executor& executor,
                    TroubledStand& stand)
      : rig_(railway, engine, clock, seed),
        engine_(engine),
        trouble_(trouble),
        clock_(clock),
        stand_(stand),
        packets_(executor, rig_.run()),
        misfortune_(executor, comes()) {
    rig_.set_power(false);
  }
  Rig& rig() override { return *this; }
  TrackPower& power() override { return *this; }
  asio::awaitable<void> leave() override {
    look_at_truth();
    misfortune_.cancel();
    rig_.stop();
    co_await misfortune_.wait();
    co_await packets_.wait();
    if (packets_.failure()) std::rethrow_exception(packets_.failure());
  }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return {}; }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return std::nullopt; }

  asio::awaitable<void> drive(ThrottleCommand command) override { return rig_.drive(command); }
  asio::awaitable<void> halt() override { return rig_.halt(); }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override { return rig_.write_cv(cv, value); }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override {
    return rig_.write_cv_bit(cv, bit, value);
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override { return rig_.read_cv(cv); }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant until) override { return rig_.next_edge(until); }
  [[nodiscard]] std::optional<double> track_current_mA() const override {
    return shorted_ && live_ ? short_mA : rig_.track_current_mA();
  }

  asio::awaitable<void> set_power(bool on) override {
    switch_track(on);
    co_return;
  }
  void send_halt() override { rig_.send_halt(); }
  void cut() override { switch_track(false); }
  void vouch() override {}
  [[nodiscard]] std::optional<Stop> lost() const override { return std::nullopt; }

 private:
  void switch_track(bool on) {
    live_ = on;
    rig_.set_power(on);
  }
  asio::awaitable<void> comes() {
    co_await clock_.sleep_for(seconds(trouble_after_s));
    if (trouble_ == Trouble::stalls) rig_.hold_engine(true);
    shorted_ = trouble_ == Trouble::shorts;
  }
  void look_at_truth() {
    std::map<int, std::uint8_t>& memory = stand_.decoders[engine_.road_number];
    for (int number = 1; number <= 256; ++number) memory[number] = rig_.decoder().cv(number);
    const simulated::Railway& railway = rig_.railway();
    const std::vector<double>& gates = railway.track().gates_mm();
    simulated::Truth truth(engine_, railway.track(), railway.track_volts(), {gates.front(), gates.back()});
    TrueSpeeds& speeds = stand_.truth[engine_.road_number];
    for (int step = 1; step <= cv::table_entries; ++step) {
      for (const Direction direction : {Direction::forward, Direction::reverse}) {
        const ThrottleCommand command{step, direction, StepMode::steps28};
        speeds[{step, direction}] = truth.speed_mm_s(rig_.decoder(), command);
      }
    }
  }

  simulated::SimulatedRig rig_;
  simulated::EngineDescription engine_;
  Trouble trouble_;
  Clock& clock_;
  TroubledStand& stand_;
  bool shorted_ = false;
  bool live_ = false;
  Background packets_;
  Background misfortune_;
};

}  // namespace

TroubledStand::TroubledStand(SimulatedSetup setup, Clock& clock, std::vector<Member> members)
    : setup_(std::move(setup)), clock_(clock), members_(std::move(members)) {}

asio::awaitable<std::unique_ptr<Placement>> TroubledStand::put_on_track(const EngineRecord& record) {
  const auto is_it = [&](const Member& member) { return member.engine.road_number == record.road_number; };
  const auto found = std::find_if(members_.begin(), members_.end(), is_it);
  if (found == members_.end()) throw RigFault("no such engine in the fleet: " + record.name);
  simulated::EngineDescription engine = found->engine;
  std::map<int, std::uint8_t>& memory = decoders[engine.road_number];
  if (memory.empty()) memory = engine.addressed_decoder().cvs;
  const Trouble trouble = in_trouble ? found->trouble : Trouble::none;
  engine.decoder.cvs = memory;
  if (trouble == Trouble::wrong_engine) engine.decoder.cvs[cv::maker_id] = other_maker;
  engine.obeys = memory[cv::address];
  engine.address = record.address;  // that the station calls
  simulated::RailwayDescription railway = setup_.railway;
  if (trouble == Trouble::dirty_gate) {
    railway.board.miss = dirty_miss;
    railway.board.twin = dirty_twin;
  }
  const std::uint64_t seed = setup_.seed + static_cast<std::uint64_t>(found->engine.address);
  const auto executor = co_await asio::this_coro::executor;
  std::unique_ptr<Placement> placement =
      std::make_unique<TroubledPlacement>(railway, engine, trouble, seed, clock_, executor, *this);
  co_return placement;
}

}  // namespace lapwright::fleet
