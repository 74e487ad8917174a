// What the procedures need from the hardware: one engine on one test track, as a few awaitable operations.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <optional>

#include "tuning/clock.h"
#include "tuning/throttle.h"

namespace lapwright {

/// One change of one gate's beam, as the trackside board stamped it.
struct GateEdge {
  int gate = 0;                  ///< index into TestTrack::gates
  bool blocked = false;          ///< true: the beam became interrupted; false: it became clear
  std::uint32_t counter_us = 0;  ///< the board's own microsecond counter, wrapping at 2^32
  std::uint32_t epoch = 0;       ///< counts boots of the board; stamps of different epochs are never subtracted
  Instant heard{};               ///< when the host learnt of it
  std::uint16_t lost = 0;        ///< edges that the board could not keep, counted since its boot, wrapping; see epoch
};

/// What became of a CV write.
enum class CvWriteReply : std::uint8_t {
  silent,       ///< sent as the standard asks; the decoder does not answer, as most do not
  confirmed,    ///< the decoder answered with the value that was sent
  refused,      ///< the decoder answered with another value
  unsupported,  ///< a single bit only: the station can't, and has sent nothing
};

/// One engine on one test track. Every operation throws RigFault when the rig is lost or made dead.
class Rig {
 public:
  virtual ~Rig() = default;
  /// Commands a step; the station refreshes it until the next command.
  virtual boost::asio::awaitable<void> drive(ThrottleCommand command) = 0;
  /// Emergency stop of the engine: motor power off at once, momentum ignored.
  virtual boost::asio::awaitable<void> halt() = 0;
  /// Operations-mode byte write; completes when the station has sent it and the decoder may be told the next thing.
  virtual boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) = 0;
  /// Operations-mode bit write (bit 0 … 7), for CVs whose other bits are not known.
  virtual boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) = 0;
  /// Operations-mode read; empty when the decoder does not answer.
  virtual boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) = 0;
  /// The next edge in the order of the board's stamps; empty when none came before `deadline`.
  virtual boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) = 0;
  /// Sets the turnouts: route 0 closes the test track, route k leads to the k-th staging track. Completes when they lie
  /// so, as far as can be told. A rig without turnouts throws.
  virtual boost::asio::awaitable<void> set_route(int route);
  /// How long the engine has to stand before it runs on, in seconds, because it ran for long; 0: it may run. Whoever
  /// does not see to it finds it standing.
  [[nodiscard]] virtual double rest_due_s() { return 0; }
  /// Latest track current in mA; empty when the rig has no sensor or its reading is old.
  [[nodiscard]] virtual std::optional<double> track_current_mA() const = 0;
};

}  // namespace lapwright
