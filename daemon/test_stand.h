// Where engines get onto the track: what a shift needs to know of the rig before the guard takes over.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/check_line.h"
#include "daemon/engine_record.h"
#include "drivers/safety/guarded_rig.h"

namespace lapwright {

/// One engine standing on the track. Only a guard may hold its rig.
class Placement {
 public:
  virtual ~Placement() = default;
  [[nodiscard]] virtual Rig& rig() = 0;
  [[nodiscard]] virtual TrackPower& power() = 0;
  /// Gives the track free. Call once, before the placement goes.
  virtual boost::asio::awaitable<void> leave() = 0;
  /// Protection that this rig can't give, for reports.
  [[nodiscard]] virtual std::vector<std::string> unprotected() const = 0;
  [[nodiscard]] virtual std::optional<std::uint64_t> seed() const = 0;
};

/// What there is to say of a track that was told to go dead where neither a board nor the station tells whether it did.
inline constexpr const char* nobody_tells =
    "the engine was halted and track power told to go off, but nothing on this rig tells whether it did: look at the "
    "track, and switch the supply off by hand";

class TestStand {
 public:
  virtual ~TestStand() = default;
  virtual boost::asio::awaitable<std::unique_ptr<Placement>> put_on_track(const EngineRecord& record) = 0;
  /// Faults that the rig has latched are forgotten. @param only  empty: a person has looked; otherwise a rule goes on
  /// after that one, and others stay. @throws RigFault  one that is still there, or another
  virtual boost::asio::awaitable<void> clear(std::optional<StopReason> only) = 0;
  /// Engine halted and track dead at once, also between and before the jobs: sent when it is called, then seen to be
  /// so. Nothing is switched on before it was cleared. @returns empty: dead; otherwise what is in doubt. Never throws.
  virtual boost::asio::awaitable<std::string> make_dead() = 0;
  /// The check before a run as it stands now; nothing is moved or switched.
  [[nodiscard]] virtual CheckLines checks() const = 0;
};

}  // namespace lapwright
