// Passages out of edges, for the rules about motion: bounce, doubled and missed edges alone make none.
#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "tuning/rig.h"

namespace lapwright {

/// A beam that was interrupted for long enough.
struct GatePassage {
  int gate = 0;
  GateEdge edge{};        ///< that began it
  bool flickers = false;  ///< the beam was not clear for long before
  bool fresh = false;     ///< an engine comes, as far as can be told: neither its next part nor an opening in it
};

/// Pure: time is an argument.
class GateWatch {
 public:
  /// @param quiet_s  how long beams bounce
  GateWatch(std::size_t gates, double quiet_s) : quiet_s_(quiet_s), beams_(gates) {}

  /// In the order of the stamps. A passage that its end proves; others become due.
  [[nodiscard]] std::optional<GatePassage> edge(const GateEdge& edge);
  /// The next one that is due by now; to be asked until there is none.
  [[nodiscard]] std::optional<GatePassage> due(Instant now);
  /// The engine was told to go the other way: what interrupts a clear beam now comes into it by the end that left it.
  void turned();
  [[nodiscard]] bool none() const { return beams_.empty(); }

 private:
  struct Beam {
    bool blocked = false;
    Instant blocked_since{};
    std::optional<GatePassage> pending;  ///< interrupted, not yet for long enough to be a passage
    std::optional<Instant> clear_since;  ///< after an interruption that was long enough
    Duration before{};                   ///< how long that one was
    bool turned = false;                 ///< since it became clear
  };
  double quiet_s_;
  std::vector<Beam> beams_;
};

/// Seconds between two stamps of one epoch; the board's counter may wrap once between them.
[[nodiscard]] inline double since_s(const GateEdge& before, const GateEdge& after) {
  return static_cast<double>(after.counter_us - before.counter_us) * 1e-6;
}

}  // namespace lapwright
