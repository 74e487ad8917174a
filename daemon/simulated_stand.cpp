#include "daemon/simulated_stand.h"

#include <algorithm>
#include <boost/asio/this_coro.hpp>
#include <functional>

#include "daemon/background.h"
#include "drivers/dcc/address.h"
#include "drivers/simulated/simulated_power.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr int plain_cvs = 256;  // those behind an index are as they were at first, for each work

/// Told where it stands when it is over.
using Left = std::function<void(const simulated::Railway&)>;

class SimulatedPlacement final : public Placement {
 public:
  SimulatedPlacement(const simulated::RailwayDescription& railway, const simulated::EngineDescription& engine,
                     std::uint64_t seed, Clock& clock, std::map<int, std::uint8_t>& decoder, Left left,
                     const asio::any_io_executor& executor)
      : rig_(railway, engine, clock, seed),
        power_(rig_),
        seed_(seed),
        decoder_(decoder),
        left_(std::move(left)),
        packets_(executor, rig_.run()) {
    rig_.set_power(false);  // dead until the guard says otherwise
  }
  [[nodiscard]] Rig& rig() override { return rig_; }
  [[nodiscard]] TrackPower& power() override { return power_; }
  asio::awaitable<void> leave() override {
    rig_.stop();
    co_await packets_.wait();
    for (int number = 1; number <= plain_cvs; ++number) decoder_[number] = rig_.decoder().cv(number);
    left_(rig_.railway());
    if (packets_.failure()) std::rethrow_exception(packets_.failure());
  }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return {}; }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return seed_; }

 private:
  simulated::SimulatedRig rig_;
  simulated::SimulatedPower power_;
  std::uint64_t seed_;
  std::map<int, std::uint8_t>& decoder_;  ///< outlives this
  Left left_;
  Background packets_;
};

}  // namespace

void SimulatedStand::set_down(const simulated::EngineDescription& engine, simulated::RailwayDescription& railway) {
  if (!railway.yard) return;
  const auto still = on_the_loop_.find(engine.address);
  const std::vector<simulated::YardTrack>& tracks = railway.yard->tracks;
  const auto is_its = [&](const simulated::YardTrack& track) { return track.engine == engine.name; };
  const auto place = std::find_if(tracks.begin(), tracks.end(), is_its);
  if (still != on_the_loop_.end()) {
    railway.start_mm = still->second;
  } else if (place != tracks.end()) {
    railway.start_track = static_cast<int>(place - tracks.begin()) + 1;
  }
  // A person has put away whoever else stood there.
  std::erase_if(on_the_loop_, [&](const auto& other) { return other.first != engine.address; });
}

asio::awaitable<std::unique_ptr<Placement>> SimulatedStand::put_on_track(const EngineRecord& record) {
  const auto is_called_so = [&](const simulated::EngineDescription& engine) {
    return engine.name == record.name && engine.road_number == record.road_number;
  };
  const auto answers = [&](const simulated::EngineDescription& engine) { return engine.address == record.address; };
  auto found = std::find_if(setup_.engines.begin(), setup_.engines.end(), is_called_so);
  if (found == setup_.engines.end()) found = std::find_if(setup_.engines.begin(), setup_.engines.end(), answers);
  if (found == setup_.engines.end()) {
    throw RigFault("no engine of the simulated railway answers to address " + std::to_string(record.address));
  }
  simulated::EngineDescription engine = *found;
  std::map<int, std::uint8_t>& decoder = decoders_[engine.address];
  if (decoder.empty()) decoder = engine.addressed_decoder().cvs;
  const bool at_long = (decoder[cv::configuration] & 1U << cv::address_bit) != 0;
  const dcc::LongAddressCvs pair{decoder[cv::long_address_high], decoder[cv::long_address_low]};
  engine.obeys = at_long ? dcc::from_cv17_18(pair) : std::optional<int>(decoder[cv::address]);
  engine.decoder.cvs = decoder;
  engine.address = record.address;  // that the station calls
  simulated::RailwayDescription railway = setup_.railway;
  const int described = found->address;
  set_down(*found, railway);
  const Left left = [this, described](const simulated::Railway& then) {
    const std::optional<simulated::Yard>& yard = then.yard();
    const double at_mm = then.engine().position_mm();
    if (yard && yard->is_home(at_mm)) on_the_loop_.erase(described);
    if (yard && !yard->is_home(at_mm)) on_the_loop_[described] = then.track().on_the_loop_mm(at_mm);
  };
  const auto executor = co_await asio::this_coro::executor;
  std::unique_ptr<Placement> placement =
      std::make_unique<SimulatedPlacement>(railway, engine, setup_.seed, clock_, decoder, left, executor);
  co_return placement;
}

}  // namespace lapwright
