// The simulated staging tracks: where they leave the loop, how the turnouts lie, and whether wheels stay on the rails.
#pragma once

#include <limits>
#include <optional>

#include "drivers/simulated/railway_description.h"

namespace lapwright::simulated {

/// One engine between a loop and its yard. All tracks leave the loop at one place and are dead ends; each turnout is a
/// trap for wheels that come from where it does not lead, and for those that stand on it while it is thrown. Positions
/// are the engine's forward end's in mm, counted on over laps.
class Yard {
 public:
  static constexpr double from_buffers_mm = 60;  ///< where engines are put

  Yard(const YardDescription& description, double loop_mm, double engine_mm);

  /// Of the forward end, for an engine that stands a little short of the buffers. @param track  from 1
  [[nodiscard]] double home_mm(int track) const;
  /// It is put there by hand.
  void set_down(int track);
  /// Route 0 is the loop; a turnout that is jammed stays.
  void set_route(int route);
  void jam(bool jammed) { jammed_ = jammed; }
  /// The engine moved; to be told every step.
  void moved(double from_mm, double to_mm);

  [[nodiscard]] int route() const { return route_; }
  [[nodiscard]] int track() const { return on_track_; }  ///< that it is in, wholly or in part; 0: on the loop
  [[nodiscard]] bool derailed() const { return derailed_; }
  /// It stands wholly beside the loop.
  [[nodiscard]] bool is_home(double position_mm) const;
  /// Whether that place on its way, a point of the loop otherwise, lies in the track that it is in.
  [[nodiscard]] bool in_track(double at_mm) const { return on_track_ > 0 && beyond_mm(at_mm) < 0; }
  /// Bounds for the forward end: its buffers.
  [[nodiscard]] double lowest_mm() const;
  [[nodiscard]] double highest_mm() const;

 private:
  /// Along the way out, from the place where the tracks leave the loop in the lap in which it was left.
  [[nodiscard]] double beyond_mm(double at_mm) const { return way_ * (at_mm - joins_mm_) - lap_mm_; }
  [[nodiscard]] double inner_mm(double position_mm) const;  ///< the end that leads into the yard
  [[nodiscard]] double outer_mm(double position_mm) const;

  YardDescription description_;
  double loop_mm_;
  double engine_mm_;
  double way_;
  double joins_mm_;
  double lap_mm_ = 0;
  double latest_mm_ = 0;
  int route_ = 0;
  int on_track_ = 0;
  bool jammed_ = false;
  bool derailed_ = false;
};

}  // namespace lapwright::simulated
