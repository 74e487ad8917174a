#include "tests/crashes/remembering_stand.h"

#include <algorithm>

#include "daemon/simulated_stand.h"
#include "drivers/simulated/simulated_rig.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"

namespace lapwright::crashes {
namespace asio = boost::asio;
namespace {

class RememberingPlacement final : public Placement, public Rig {
 public:
  RememberingPlacement(std::unique_ptr<SimulatedSetup> setup, std::unique_ptr<SimulatedStand> stand,
                       std::unique_ptr<Placement> engine, std::map<int, std::uint8_t>& memory,
                       const std::function<void()>& changed)
      : setup_(std::move(setup)),
        stand_(std::move(stand)),
        engine_(std::move(engine)),
        memory_(memory),
        changed_(changed) {}

  Rig& rig() override { return *this; }
  TrackPower& power() override { return engine_->power(); }
  asio::awaitable<void> leave() override { return engine_->leave(); }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return engine_->unprotected(); }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return engine_->seed(); }

  asio::awaitable<void> drive(ThrottleCommand command) override { return engine_->rig().drive(command); }
  asio::awaitable<void> halt() override { return engine_->rig().halt(); }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    const CvWriteReply reply = co_await engine_->rig().write_cv(cv, value);
    remember();
    co_return reply;
  }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override {
    const CvWriteReply reply = co_await engine_->rig().write_cv_bit(cv, bit, value);
    remember();
    co_return reply;
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override { return engine_->rig().read_cv(cv); }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant until) override { return engine_->rig().next_edge(until); }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return engine_->rig().track_current_mA(); }

 private:
  void remember() {
    simulated::Decoder& decoder = dynamic_cast<simulated::SimulatedRig&>(engine_->rig()).decoder();
    const std::map<int, std::uint8_t> before = memory_;
    for (int number = 1; number <= 256; ++number) memory_[number] = decoder.cv(number);
    if (changed_ && memory_ != before) changed_();
  }

  std::unique_ptr<SimulatedSetup> setup_;  ///< the stand refers to it
  std::unique_ptr<SimulatedStand> stand_;  ///< the engine's placement refers to it
  std::unique_ptr<Placement> engine_;
  std::map<int, std::uint8_t>& memory_;
  const std::function<void()>& changed_;
};

}  // namespace

RememberingStand::RememberingStand(SimulatedSetup setup, Clock& clock, Decoders& decoders,
                                   std::function<void()> changed)
    : setup_(std::move(setup)), clock_(clock), decoders_(decoders), changed_(std::move(changed)) {}

asio::awaitable<std::unique_ptr<Placement>> RememberingStand::put_on_track(const EngineRecord& record) {
  auto setup = std::make_unique<SimulatedSetup>(setup_);
  std::vector<simulated::EngineDescription>& engines = setup->engines;
  const auto its_own = [&](const simulated::EngineDescription& engine) { return engine.address == record.address; };
  auto engine = std::find_if(engines.begin(), engines.end(), its_own);
  if (engine == engines.end() && engines.size() == 1) engine = engines.begin();  // the station calls another address
  if (engine == engines.end()) throw RigFault("no engine stands there");
  std::map<int, std::uint8_t>& memory = decoders_[engine->address];
  if (memory.empty()) memory = engine->addressed_decoder().cvs;
  const bool by_long = (memory[cv::configuration] & 0x20) != 0;
  engine->obeys = by_long ? (memory[17] - 192) * 256 + memory[18] : memory[cv::address];
  engine->decoder.cvs = memory;
  engine->address = record.address;
  auto stand = std::make_unique<SimulatedStand>(*setup, clock_);
  std::unique_ptr<Placement> placed = co_await stand->put_on_track(record);
  std::unique_ptr<Placement> result =
      std::make_unique<RememberingPlacement>(std::move(setup), std::move(stand), std::move(placed), memory, changed_);
  co_return result;
}

}  // namespace lapwright::crashes
