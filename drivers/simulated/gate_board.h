// The trackside board: stamps the changes of the beams with its own counter, with all the faults that boards have.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "drivers/simulated/railway_description.h"
#include "drivers/simulated/random.h"
#include "drivers/simulated/silhouette.h"
#include "drivers/simulated/yard.h"
#include "tuning/rig.h"

namespace lapwright::simulated {

/// Watches one engine move and gives out edges in the order of their stamps.
class GateBoard {
 public:
  GateBoard(const BoardDescription& description, Silhouette silhouette, std::uint64_t seed);

  /// Gates that lie beside what the engine stands on see nothing of it. @param yard  null: all lie on its way
  void look_past(const Yard* yard) { yard_ = yard; }
  /// The engine moved evenly from one place to another within one step that began at `from_s`.
  void watch(double from_s, double dt_s, double from_mm, double to_mm) {
    if (to_mm == from_mm) return;
    const bool forward = to_mm > from_mm;
    const double next_mm = forward ? silhouette_.ahead_mm() - to_mm : to_mm - silhouette_.behind_mm();
    if (next_mm > twin_lead_s_ * (forward ? to_mm - from_mm : from_mm - to_mm) / dt_s && next_mm > 0) return;
    meet(from_s, dt_s, from_mm, to_mm);
  }
  /// The next edge that the host may learn of at `now_s`.
  [[nodiscard]] std::optional<GateEdge> take(double now_s);

  /// The counter at that moment of track time.
  [[nodiscard]] std::uint32_t counter_us(double at_s) const;

  [[nodiscard]] std::uint64_t changes() const { return changes_; }  ///< true changes of beams
  [[nodiscard]] std::uint64_t missed() const { return missed_; }
  [[nodiscard]] std::uint64_t twins() const { return twins_; }

 private:
  struct Pending {
    double stamp_s = 0;
    int gate = 0;
    bool blocked = false;
  };
  void meet(double from_s, double dt_s, double from_mm, double to_mm);
  void change(const BeamChange& beam, double engine_mm, bool forward, double at_s);
  void twin(int gate, bool settled_blocked, double at_s);
  void bounce(int gate, bool settled_blocked, double at_s);
  void put(double stamp_s, int gate, bool blocked);
  void look_ahead();

  BoardDescription description_;
  Silhouette silhouette_;
  const Yard* yard_ = nullptr;
  Random luck_;
  double counter_start_us_ = 0;
  std::uint32_t epoch_ = 1;
  double twin_lead_s_ = 0;  ///< above 0: a spurious pair comes this long before the next change
  double last_given_s_ = 0;
  std::vector<Pending> pending_;  ///< by stamp
  std::uint64_t changes_ = 0;
  std::uint64_t missed_ = 0;
  std::uint64_t twins_ = 0;
};

}  // namespace lapwright::simulated
