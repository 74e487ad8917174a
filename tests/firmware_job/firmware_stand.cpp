#include "tests/firmware_job/firmware_stand.h"

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/post.hpp>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>

#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double start_limit_s = 20;
constexpr Duration look_every = std::chrono::milliseconds(5);
constexpr double sensor_noise_mA =
    15;  // a Hall-effect sensor's, three of the chip's steps from peak to peak: from memory

void until_stopped(const std::exception_ptr& failure) {
  try {
    if (failure) std::rethrow_exception(failure);
  } catch (const RigFault&) {
    // The railway was stopped: whoever waited for it is told so.
  }
}

simulated::LccEndSettings station_of(const simulated::EngineDescription& engine) {
  simulated::LccEndSettings settings;
  settings.address = engine.address;
  return settings;
}

}  // namespace

FirmwareStand::FirmwareStand(const simulated::RailwayDescription& railway, const simulated::EngineDescription& engine,
                             std::uint64_t seed, const std::filesystem::path& log)
    : board_(LAPWRIGHT_AVR_BOARD, {}, log),
      rig_(railway, engine, clock_, seed),
      wire_(context_.get_executor(), TcpAddress{"127.0.0.1", 0}, true,
            [this](std::string_view bytes) { station_.hear(bytes); }),
      station_(
          rig_, station_of(engine), [this](std::string_view bytes) { wire_.say(bytes); }, [this] { switch_track(); }) {
  BOOST_REQUIRE_MESSAGE(board_.wrote("\n", start_limit_s), "avr_board does not come up");
  const std::string first = board_.output();
  device_ = first.substr(4, first.find('\n') - 4);  // pty PATH
  for (std::size_t gate = 1; gate <= railway.gates.size(); ++gate) board_.say("gate " + std::to_string(gate) + " 0");
  rig_.set_power(false);
  wire_.plug();
  port_ = wire_.port();
  asio::co_spawn(context_, rig_.run(), until_stopped);
  asio::co_spawn(context_, station_.run(), until_stopped);
  asio::co_spawn(context_, pins(), until_stopped);
  asio::co_spawn(context_, beams(), until_stopped);
  thread_ = std::thread([this] { context_.run(); });
}

FirmwareStand::~FirmwareStand() {
  asio::post(context_, [this] {
    stopped_ = true;
    station_.stop();
    rig_.stop();
    wire_.unplug();
  });
  thread_.join();
}

bool FirmwareStand::relay_closed() const {
  const std::string told = board_.output();
  const std::size_t last = told.rfind("relay ");
  return last != std::string::npos && told.compare(last, 7, "relay 1") == 0;
}

void FirmwareStand::switch_track() {
  const bool live = station_.powered() && relay_closed();
  if (live != rig_.railway().power()) rig_.set_power(live);
}

asio::awaitable<void> FirmwareStand::pins() {
  std::mt19937_64 random;
  std::normal_distribution<double> noise_mA(0, sensor_noise_mA);
  while (!stopped_) {
    switch_track();
    const double current_mA = rig_.track_current_mA().value_or(0) + noise_mA(random);
    board_.say("current " + std::to_string(std::lround(current_mA)));
    co_await clock_.sleep_for(look_every);
  }
}

asio::awaitable<void> FirmwareStand::beams() {
  while (!stopped_) {
    const Instant soon = clock_.now() + std::chrono::seconds(1);
    const std::optional<GateEdge> edge = co_await rig_.next_edge(soon);
    if (edge) board_.say("gate " + std::to_string(edge->gate + 1) + (edge->blocked ? " 1" : " 0"));
  }
}

}  // namespace lapwright
