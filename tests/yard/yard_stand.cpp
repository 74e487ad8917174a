#include "tests/yard/yard_stand.h"

#include <algorithm>
#include <boost/asio/this_coro.hpp>

#include "daemon/background.h"
#include "drivers/simulated/simulated_power.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright::yard {
namespace asio = boost::asio;
namespace {

constexpr Duration world_moves_every = std::chrono::milliseconds(100);

class YardPlacement final : public Placement {
 public:
  YardPlacement(const simulated::RailwayDescription& railway, const simulated::EngineDescription& engine,
                std::uint64_t seed, Clock& clock, YardStand& stand, const asio::any_io_executor& executor)
      : rig_(railway, engine, clock, seed),
        power_(rig_),
        name_(engine.name),
        clock_(clock),
        began_(clock.now()),
        stand_(stand),
        packets_(executor, rig_.run()),
        world_(executor, world()) {
    rig_.throw_turnouts(stand.route);  // as they were left
    rig_.set_power(false);
  }
  Rig& rig() override { return rig_; }
  TrackPower& power() override { return power_; }
  asio::awaitable<void> leave() override {
    world_.cancel();
    rig_.stop();
    co_await world_.wait();
    co_await packets_.wait();
    std::map<int, std::uint8_t>& memory = stand_.decoders[name_];
    for (int number = 1; number <= 256; ++number) memory[number] = rig_.decoder().cv(number);
    look();
    if (packets_.failure()) std::rethrow_exception(packets_.failure());
  }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return {}; }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return std::nullopt; }

 private:
  asio::awaitable<void> world() {
    for (;;) {
      if (stand_.misfortune) stand_.misfortune(name_, rig_, in_seconds(clock_.now() - began_));
      co_await clock_.sleep_for(world_moves_every);
    }
  }
  void look() {
    const simulated::Railway& railway = rig_.railway();
    const double at_mm = railway.engine().position_mm();
    Left left;
    left.engine = name_;
    left.home = railway.yard()->is_home(at_mm);
    left.derailed = railway.yard()->derailed();
    left.buffer_hits = railway.engine().buffer_hits();
    left.to_buffers_mm = std::min(at_mm - railway.yard()->lowest_mm(), railway.yard()->highest_mm() - at_mm);
    left.on_the_loop_mm = railway.track().on_the_loop_mm(at_mm);
    left.lasted_s = in_seconds(clock_.now() - began_);
    stand_.route = railway.yard()->route();
    stand_.note(left);
  }

  simulated::SimulatedRig rig_;
  simulated::SimulatedPower power_;
  std::string name_;
  Clock& clock_;
  Instant began_;
  YardStand& stand_;
  Background packets_;
  Background world_;
};

}  // namespace

void YardStand::note(const Left& left) {
  runs.push_back(left);
  on_the_loop_.erase(left.engine);
  if (!left.home) on_the_loop_[left.engine] = left.on_the_loop_mm;
}

asio::awaitable<std::unique_ptr<Placement>> YardStand::put_on_track(const EngineRecord& record) {
  const auto is_it = [&](const simulated::EngineDescription& engine) { return engine.name == record.name; };
  const auto found = std::find_if(setup_.engines.begin(), setup_.engines.end(), is_it);
  if (found == setup_.engines.end()) throw RigFault("no engine is called " + record.name);
  simulated::EngineDescription engine = *found;
  std::map<int, std::uint8_t>& memory = decoders[engine.name];
  if (memory.empty()) memory = engine.addressed_decoder().cvs;
  engine.obeys = memory[cv::address];
  engine.decoder.cvs = memory;
  engine.address = record.address;  // that the station calls
  simulated::RailwayDescription railway = setup_.railway;
  const auto is_its = [&](const simulated::YardTrack& track) { return track.engine == engine.name; };
  const std::vector<simulated::YardTrack>& tracks = railway.yard.value().tracks;
  const auto still = on_the_loop_.find(engine.name);
  if (still != on_the_loop_.end()) railway.start_mm = still->second;
  if (still == on_the_loop_.end()) {
    railway.start_track = static_cast<int>(std::find_if(tracks.begin(), tracks.end(), is_its) - tracks.begin()) + 1;
  }
  const bool another = std::any_of(on_the_loop_.begin(), on_the_loop_.end(),
                                   [&](const auto& other) { return other.first != engine.name; });
  collisions += another ? 1 : 0;
  const auto executor = co_await asio::this_coro::executor;
  std::unique_ptr<Placement> placement =
      std::make_unique<YardPlacement>(railway, engine, setup_.seed, clock_, *this, executor);
  co_return placement;
}

}  // namespace lapwright::yard
