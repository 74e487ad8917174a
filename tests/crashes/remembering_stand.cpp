#include "tests/crashes/remembering_stand.h"

#include "daemon/simulated_stand.h"

namespace lapwright::crashes {
namespace asio = boost::asio;
namespace {

class RememberingPlacement final : public Placement, public Rig {
 public:
  RememberingPlacement(std::unique_ptr<SimulatedSetup> setup, std::unique_ptr<Placement> engine,
                       std::map<int, std::uint8_t>& memory, const std::function<void()>& changed)
      : setup_(std::move(setup)), engine_(std::move(engine)), memory_(memory), changed_(changed) {}

  Rig& rig() override { return *this; }
  TrackPower& power() override { return engine_->power(); }
  asio::awaitable<void> leave() override { return engine_->leave(); }
  [[nodiscard]] std::vector<std::string> unprotected() const override { return engine_->unprotected(); }
  [[nodiscard]] std::optional<std::uint64_t> seed() const override { return engine_->seed(); }

  asio::awaitable<void> drive(ThrottleCommand command) override { return engine_->rig().drive(command); }
  asio::awaitable<void> halt() override { return engine_->rig().halt(); }
  asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override {
    const CvWriteReply reply = co_await engine_->rig().write_cv(cv, value);
    memory_[cv] = value;
    if (changed_) changed_();
    co_return reply;
  }
  asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override {
    const CvWriteReply reply = co_await engine_->rig().write_cv_bit(cv, bit, value);
    const unsigned mask = 1U << static_cast<unsigned>(bit);
    memory_[cv] = static_cast<std::uint8_t>(value ? memory_[cv] | mask : memory_[cv] & ~mask);
    if (changed_) changed_();
    co_return reply;
  }
  asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override { return engine_->rig().read_cv(cv); }
  asio::awaitable<std::optional<GateEdge>> next_edge(Instant until) override { return engine_->rig().next_edge(until); }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return engine_->rig().track_current_mA(); }

 private:
  std::unique_ptr<SimulatedSetup> setup_;  ///< the engine's placement refers to it
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
  std::map<int, std::uint8_t>& memory = decoders_[record.address];
  for (simulated::EngineDescription& engine : setup->engines) {
    if (engine.address != record.address) continue;
    if (memory.empty()) memory = engine.decoder.cvs;
    engine.decoder.cvs = memory;
  }
  SimulatedStand stand(*setup, clock_);
  std::unique_ptr<Placement> engine = co_await stand.put_on_track(record);
  std::unique_ptr<Placement> result =
      std::make_unique<RememberingPlacement>(std::move(setup), std::move(engine), memory, changed_);
  co_return result;
}

}  // namespace lapwright::crashes
