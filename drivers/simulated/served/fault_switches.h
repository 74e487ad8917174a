// What can be done to a served railway while it runs, in words.
#pragma once

#include <string>
#include <string_view>

#include "drivers/simulated/served/served_rig.h"

namespace lapwright::simulated {

/// One command each, LINK being "station" or "board":
///     unplug LINK [SECONDS]     the link goes, and comes back after that time or by "plug"
///     plug LINK
///     mute LINK [SECONDS]       half-open: connections stay and no byte comes through, until then or "unmute"
///     unmute LINK
///     garbage LINK [BYTES]      noise instead of a message
///     lose EDGES                so many of the next gate edges are not reported
///     block GATE on|off         something stands in the beam, or no longer
///     ghost GATE                a beam changes for a moment with no engine in it; gates count from 1
///     short on|off              across the rails
///     weld on|off              the relay does not open any more
///     stall on|off              something holds the engine
///     derail on|off             its wheels touch no rail: the decoder is lost
///     jam on|off                turnouts stay as they lie
///     silence on|off            the station neither hears nor says anything, and goes on sending packets
///     reset [CAUSE]             of the board: p power, e reset pin, b brown-out, w watchdog
///     button down|up            of the board
///     status
class FaultSwitches {
 public:
  explicit FaultSwitches(ServedRig& rig) : rig_(rig) {}
  /// @throws std::invalid_argument
  [[nodiscard]] std::string obey(const std::string& words);
  [[nodiscard]] static std::string_view help();

 private:
  std::string unplug(const std::string& link, double seconds);
  std::string plug(const std::string& link);
  std::string mute(const std::string& link, bool on, double seconds);
  std::string garbage(const std::string& link, int bytes);
  void check_gate(int gate) const;
  std::string ghost(int gate);
  std::string block(int gate, bool on);
  std::string reset(const std::string& cause);
  [[nodiscard]] ServedWire& wire(const std::string& name);
  [[nodiscard]] BoardEnd& board();

  ServedRig& rig_;
};

}  // namespace lapwright::simulated
