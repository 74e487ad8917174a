#include "drivers/simulated/railway.h"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <string>
#include <utility>

#include "drivers/dcc/packet.h"

namespace lapwright::simulated {

namespace {
constexpr double longest_step_s = 0.001;
constexpr double decoder_current_mA = 18;  // its electronics and a headlight
constexpr double sensor_noise_mA = 2;

dcc::VehicleAddress address_of(const EngineDescription& engine) {
  return is_long_address(engine.address) ? dcc::VehicleAddress::long_form(engine.address)
                                         : dcc::VehicleAddress::short_form(engine.address);
}
/// The description, if the engine fits onto the track and, between buffers, also where it is to be set down.
const RailwayDescription& checked(const RailwayDescription& railway, const EngineDescription& engine) {
  const std::string where = "simulated railway \"" + railway.name + "\": ";
  const std::string engine_length = "the engine " + engine.name + " has " + std::to_string(engine.length_mm);
  if (engine.length_mm >= railway.length_mm) {
    throw std::invalid_argument(where + "length_mm is " + std::to_string(railway.length_mm) + " and " + engine_length +
                                "; make the track longer than the engine");
  }
  const bool has_buffers = railway.shape == TrackShape::shuttle;
  if (has_buffers && railway.start_mm && *railway.start_mm < engine.length_mm) {
    throw std::invalid_argument(where + "set_down_mm, the place of the forward end, is " +
                                std::to_string(*railway.start_mm) + " and " + engine_length +
                                "; the rear end would stand behind the buffer, so set it down further along");
  }
  if (railway.start_track > 0 && railway.yard) {
    const double room_mm = railway.yard->tracks.at(static_cast<std::size_t>(railway.start_track) - 1).length_mm;
    if (engine.length_mm + 2 * Yard::from_buffers_mm > room_mm) {
      throw std::invalid_argument(where + "its staging track has " + std::to_string(room_mm) + " mm and " +
                                  engine_length + "; make the track longer, it has to stand clear of the turnout");
    }
  }
  return railway;
}
}  // namespace

double Railway::first_place(const RailwayDescription& railway, const EngineDescription& engine, std::uint64_t seed) {
  if (railway.start_track > 0 && yard_) {
    yard_->set_down(railway.start_track);
    return yard_->home_mm(railway.start_track);
  }
  if (railway.start_mm) return *railway.start_mm;
  Random luck(seed ^ 0x706c616365ULL);
  const double share = luck.uniform();
  if (railway.shape == TrackShape::loop) return share * railway.length_mm;
  const double free_mm = railway.length_mm - engine.length_mm;
  return engine.length_mm + free_mm * (0.1 + 0.8 * share);
}

Railway::Railway(const RailwayDescription& railway, const EngineDescription& engine, std::uint64_t seed)
    : track_(checked(railway, engine), seed),
      yard_(railway.yard ? std::optional<Yard>(std::in_place, *railway.yard, railway.length_mm, engine.length_mm)
                         : std::nullopt),
      track_volts_(railway.track_volts.value_or(engine.motor.volts)),
      engine_(engine, track_, track_volts_, seed, first_place(railway, engine, seed)),
      decoder_(engine.addressed_decoder()),
      station_(address_of(engine), engine.decoder.answers_reads),
      board_(railway.board, Silhouette(engine, track_, engine_.position_mm()), seed),
      sensor_luck_(seed ^ 0x73656e736f72ULL) {
  if (!yard_) return;
  others_mA_ = decoder_current_mA * static_cast<double>(railway.yard->tracks.size() - 1);
  board_.look_past(&*yard_);
  engine_.set_bounds(yard_->lowest_mm(), yard_->highest_mm());
}

double Railway::begin_packet() {
  packet_ = station_.next();
  packet_s_ = 1e-6 * dcc::duration_us(packet_);
  return packet_s_;
}

void Railway::end_packet() {
  run_for(packet_s_);
  std::optional<std::uint8_t> reply;
  if (fed()) {
    decoder_.receive(packet_);
    reply = decoder_.reply();
  }
  station_.sent(now_s_, reply);
}

void Railway::run_for(double length_s) {
  const int steps = static_cast<int>(std::ceil(length_s / longest_step_s));
  const double dt_s = length_s / steps;
  double drawn_mA = 0;
  for (int step = 0; step < steps; ++step) {
    const double from_mm = engine_.position_mm();
    const double drive = fed() ? decoder_.advance(dt_s, engine_.back_emf_share()) : 0;
    engine_.advance(dt_s, drive, fed());
    if (yard_) watch_wheels(from_mm);
    board_.watch(now_s_, dt_s, from_mm, engine_.position_mm());
    now_s_ += dt_s;
    drawn_mA += drive * engine_.motor_current_mA();  // the decoder's bridge turns volts down, so current up
  }
  current_mA_ = fed() ? decoder_current_mA + std::max(0.0, drawn_mA / steps) : 0;
  if (power_) current_mA_ += others_mA_;
}

void Railway::watch_wheels(double from_mm) {
  const int before = yard_->track();
  yard_->moved(from_mm, engine_.position_mm());
  if (yard_->track() != before) engine_.set_bounds(yard_->lowest_mm(), yard_->highest_mm());
  if (yard_->derailed()) lift(true);
}

void Railway::set_route(int route) {
  if (yard_) yard_->set_route(route);
}

void Railway::jam_turnouts(bool jammed) {
  if (yard_) yard_->jam(jammed);
}

void Railway::set_power(bool on) {
  if (power_ && !on) {
    decoder_.power_cycle();
    station_.power_lost();
  }
  power_ = on;
}

void Railway::lift(bool off_the_rails) {
  if (off_the_rails && !lifted_) decoder_.power_cycle();
  lifted_ = off_the_rails;
}

double Railway::track_current_mA() { return std::max(0.0, current_mA_ + sensor_noise_mA * sensor_luck_.normal()); }

}  // namespace lapwright::simulated
