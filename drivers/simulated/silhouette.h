// Which beam changes next as an engine moves: its opaque parts against the true places of the gates.
#pragma once

#include <cstddef>
#include <vector>

#include "drivers/simulated/engine_description.h"
#include "drivers/simulated/track.h"

namespace lapwright::simulated {

/// A change of one beam, met when the engine's forward end stands at one place.
struct BeamChange {
  double at_mm = 0;  ///< of the forward end; on a loop within one lap
  int gate = 0;
  bool blocked_forward = false;  ///< running forward the beam becomes blocked here; in reverse the opposite
  double behind_mm = 0;          ///< how far behind the forward end the beam is then
};

/// Keeps the next change ahead and behind; positions count on over laps.
class Silhouette {
 public:
  Silhouette(const EngineDescription& engine, const Track& track, double position_mm);

  [[nodiscard]] double ahead_mm() const { return ahead_mm_; }    ///< place of the next change running forward
  [[nodiscard]] double behind_mm() const { return behind_mm_; }  ///< place of the next change in reverse
  [[nodiscard]] const BeamChange& ahead() const { return changes_[next_]; }
  [[nodiscard]] const BeamChange& behind() const { return changes_[next_ == 0 ? changes_.size() - 1 : next_ - 1]; }
  void pass_ahead();
  void pass_behind();
  [[nodiscard]] bool blocked(int gate, double position_mm) const;

 private:
  void look();

  bool loop_;
  double length_mm_;
  std::vector<double> gates_mm_;
  std::vector<OpaquePart> parts_;
  std::vector<BeamChange> changes_;  ///< by place
  std::size_t next_ = 0;             ///< index of the change ahead; may be the size on a shuttle
  double lap_mm_ = 0;                ///< added to the place of the change ahead
  double ahead_mm_ = 0;
  double behind_mm_ = 0;
};

}  // namespace lapwright::simulated
