// A simulated decoder: real packets in, motor voltage out, with the freedom that the standard leaves to makers.
#pragma once

#include <bitset>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>

#include "drivers/dcc/instruction.h"
#include "drivers/dcc/packet.h"
#include "drivers/simulated/decoder_description.h"
#include "drivers/simulated/decoder_memory.h"
#include "drivers/simulated/motor_regulator.h"
#include "tuning/throttle.h"

namespace lapwright::simulated {

/// The state machine behind the rails' pick-up. Time enters only through `advance`.
class Decoder {
 public:
  explicit Decoder(const DecoderDescription& description);

  /// One complete packet with its error byte, as it stands on the track. Damaged or foreign packets change nothing
  /// except that S-9.2.1's two-packet rule is honoured.
  void receive(std::span<const std::uint8_t> packet);
  /// The CV value that the decoder sends back in the cut-out behind the packet just received, if it does.
  [[nodiscard]] std::optional<std::uint8_t> reply() const;

  /// Lets `dt_s` pass and returns the share of the supply voltage on the motor, -1 … 1 (positive: forward).
  /// @param back_emf_share  the motor's back-EMF as a share of the supply voltage, signed, as the decoder samples it.
  double advance(double dt_s, double back_emf_share);

  [[nodiscard]] std::uint8_t cv(int number) const;  ///< stored value, 0 where nothing is stored
  void set_cv(int number, std::uint8_t value);      ///< as on a programming bench: no two-packet rule
  void power_cycle();                               ///< volatile state is lost, CVs are kept
  /// Drive level as a share of full, after table or CV2/5/6 curve, trims and rounding to the drive resolution, for a
  /// step in a mode; momentum ignored.
  [[nodiscard]] double drive_share(ThrottleCommand command) const;
  /// Direction in which the motor is really turned for a commanded direction (CV29 bit 0, CV19 bit 7).
  [[nodiscard]] bool inverted() const;
  /// State of function F0 (headlight) … F68; false for other numbers.
  [[nodiscard]] bool function_on(int number) const;

 private:
  struct Addressee;
  struct Obey;  // one overload for each instruction
  [[nodiscard]] Addressee addressee(const std::optional<dcc::VehicleAddress>& address) const;
  void count_copies(const dcc::VehicleInstruction& instruction, bool own, std::span<const std::uint8_t> packet);
  [[nodiscard]] bool answers(int cv) const;
  void forget_volatile();
  void aim(int signed_step, int steps_in_use);
  void stop_at_once();
  void cv_changed();
  void step_changed();
  void follow_momentum(double dt_s);
  [[nodiscard]] double share_at(int step, int steps_in_use, bool forward) const;
  [[nodiscard]] double curve_level(double position) const;

  DecoderDescription traits_;
  DecoderMemory memory_;
  MotorRegulator regulator_;
  std::bitset<dcc::function_count> functions_;
  dcc::Packet last_access_;  // CV access whose copies are being counted
  int copies_ = 0;
  std::optional<std::uint8_t> reply_;

  bool lights_forward_ = true;
  int steps_in_use_ = 28;  // 14, 28 or 126
  int aim_ = 0;            // steps, positive: the decoder's forward, after any inversion by the consist
  int step_ = 0;           // on the way to aim_ under momentum
  double since_step_s_ = 0;
  double kick_left_s_ = 0;
  double silence_s_ = 0;  // since the last packet for this decoder

  // Kept up to date from the CVs, because `advance` runs millions of times.
  double time_out_s_ = std::numeric_limits<double>::infinity();
  double gather_s_per_step_ = 0;
  double brake_s_per_step_ = 0;
  double drive_share_ = 0;
  double motor_sign_ = 1;
};

}  // namespace lapwright::simulated
