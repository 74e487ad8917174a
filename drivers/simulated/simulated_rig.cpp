#include "drivers/simulated/simulated_rig.h"

#include "drivers/turn.h"
#include "tuning/rig_fault.h"

namespace lapwright::simulated {
namespace asio = boost::asio;

namespace {
constexpr std::size_t most_edges = 10000;  // that nobody fetched; older ones are dropped then
constexpr Duration turnout_takes = std::chrono::milliseconds(800);
constexpr Duration worst_lag = std::chrono::seconds(1);  // of a busy host, before track time is let slip

CvWriteReply judge(const CvAnswer& answer, bool as_wished) {
  if (!answer.value) return CvWriteReply::silent;
  return as_wished ? CvWriteReply::confirmed : CvWriteReply::refused;
}
}  // namespace

SimulatedRig::SimulatedRig(const RailwayDescription& railway, const EngineDescription& engine, Clock& clock,
                           std::uint64_t seed)
    : railway_(railway, engine, seed), clock_(clock) {}

asio::awaitable<void> SimulatedRig::run() {
  Instant at = clock_.now();
  bool others_may_act = true;  // they may have been started or woken without having run yet
  while (!stopped_) {
    at += seconds(railway_.begin_packet());
    // While everybody else sleeps, packets pass without waking anyone: a virtual night has millions of them.
    const bool unwatched = !others_may_act && at < clock_.quiet_until();
    if (!unwatched) co_await clock_.sleep_until(at);
    others_may_act = false;
    const bool was_busy = railway_.station().busy();
    railway_.end_packet();
    const bool edges_came = collect(unwatched ? at : clock_.now());
    const bool station_became_free = was_busy && !railway_.station().busy();
    if (edges_came || station_became_free) {
      if (unwatched) co_await clock_.sleep_until(at);
      bell_.ring();
      others_may_act = true;
    }
    if (clock_.now() - at > worst_lag) at = clock_.now();
  }
}

bool SimulatedRig::collect(Instant heard) {
  current_mA_ = railway_.track_current_mA();
  bool came = false;
  while (auto edge = railway_.board().take(railway_.now_s())) {
    edge->heard = heard;
    if (edges_.size() == most_edges) edges_.pop_front();
    edges_.push_back(*edge);
    came = true;
  }
  return came;
}

void SimulatedRig::stop() {
  stopped_ = true;
  bell_.ring();
}

void SimulatedRig::set_power(bool on) {
  railway_.set_power(on);
  bell_.ring();
}

void SimulatedRig::check_alive() const {
  if (stopped_) throw RigFault("simulated railway: it was stopped; start a new one to go on");
}

asio::awaitable<void> SimulatedRig::drive(ThrottleCommand command) {
  check_alive();
  if (!railway_.power()) throw RigFault("simulated railway: track power is off; switch it on before driving");
  railway_.station().drive(command);
  co_return;
}

asio::awaitable<void> SimulatedRig::halt() {
  check_alive();
  railway_.station().halt();
  co_return;
}

/// After a cancelled access the station may still be busy with what was asked; its answer is nobody's, and Station
/// drops it when the next access begins.
asio::awaitable<void> SimulatedRig::station_free() {
  while (access_taken_ || railway_.station().busy()) {
    co_await bell_.wait();
    check_alive();
  }
}

asio::awaitable<CvAnswer> SimulatedRig::answer() {
  for (;;) {
    const auto result = railway_.station().take_answer();
    if (result) co_return *result;
    co_await bell_.wait();
    check_alive();
  }
}

asio::awaitable<void> SimulatedRig::set_route(int route) {
  check_alive();
  if (!railway_.yard()) throw RigFault("simulated railway: it has no yard; describe one to have staging tracks");
  if (!railway_.power()) throw RigFault("simulated railway: track power is off, and the turnouts are fed by it");
  throw_turnouts(route);
  co_await clock_.sleep_for(turnout_takes);
}

asio::awaitable<CvWriteReply> SimulatedRig::write_cv(int cv, std::uint8_t value) {
  check_alive();
  co_await station_free();
  const Turn turn(access_taken_, bell_);
  railway_.station().write(cv, value);
  const CvAnswer said = co_await answer();
  co_return judge(said, said.value == value);
}

asio::awaitable<CvWriteReply> SimulatedRig::write_cv_bit(int cv, int bit, bool value) {
  check_alive();
  co_await station_free();
  const Turn turn(access_taken_, bell_);
  railway_.station().write_bit(cv, bit, value);
  const CvAnswer said = co_await answer();
  co_return judge(said, said.value && (((*said.value >> bit) & 1) != 0) == value);
}

asio::awaitable<std::optional<std::uint8_t>> SimulatedRig::read_cv(int cv) {
  check_alive();
  co_await station_free();
  const Turn turn(access_taken_, bell_);
  railway_.station().read(cv);
  const CvAnswer said = co_await answer();
  co_return said.value;
}

asio::awaitable<std::optional<GateEdge>> SimulatedRig::next_edge(Instant deadline) {
  check_alive();
  while (edges_.empty() && clock_.now() < deadline) {
    co_await bell_.wait_until(clock_, deadline);
    check_alive();
  }
  if (edges_.empty()) co_return std::nullopt;
  const GateEdge first = edges_.front();
  edges_.pop_front();
  co_return first;
}

}  // namespace lapwright::simulated
