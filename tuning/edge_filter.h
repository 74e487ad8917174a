// Raw gate edges in, passages of engine ends out: bounce removed, the board's wrapping counter made continuous.
#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "tuning/rig.h"

namespace lapwright {

/// One engine end seen at one gate at one time.
struct Passage {
  int gate = 0;
  bool blocked = false;  ///< the end came into the beam; otherwise it left it
  double at_s = 0;       ///< seconds of the board's counter since its first edge of this epoch
  std::uint32_t epoch = 0;
};

/// Feeds on edges in the order of their stamps. The first edge after a quiet time is the passage; what follows closer
/// than the quiet time is bounce of the same change. If that leaves the beam as it was before, there was no change: a
/// spark, a fly, a flash of light; only what follows can tell.
class EdgeFilter {
 public:
  EdgeFilter(int gates, double quiet_s);
  [[nodiscard]] std::optional<Passage> feed(const GateEdge& edge);
  /// After `feed` gave a passage: the one before it at the same gate, if that was no change.
  [[nodiscard]] const std::optional<Passage>& taken_back() const { return taken_back_; }
  /// The gate's latest passage, if it was no change, to be asked once the gate is quiet.
  [[nodiscard]] std::optional<Passage> unchanged(int gate) const;

  [[nodiscard]] std::uint64_t bounces() const { return bounces_; }
  /// Changes of the beam whose counterpart never came: the gate was seen blocked (or clear) twice in a row.
  [[nodiscard]] std::uint64_t missed() const { return missed_; }
  /// Edges that the board could not keep.
  [[nodiscard]] std::uint64_t lost() const { return lost_; }
  /// The worst change since `forget_worst`: how long a beam took for it, and how many edges came after the first.
  [[nodiscard]] double longest_change_s() const { return longest_change_s_; }
  [[nodiscard]] int most_bounces() const { return most_bounces_; }
  void forget_worst();

 private:
  struct GateState {
    double last_edge_s = -1e9;
    std::optional<bool> blocked;
    std::optional<Passage> latest;
    int bounces = 0;  ///< of it
  };
  [[nodiscard]] double continuous_s(const GateEdge& edge);

  double quiet_s_;
  std::vector<GateState> gates_;
  std::optional<std::uint32_t> epoch_;
  std::uint32_t last_counter_us_ = 0;
  std::uint16_t last_lost_ = 0;
  std::uint64_t elapsed_us_ = 0;
  std::optional<Passage> taken_back_;
  std::uint64_t bounces_ = 0;
  std::uint64_t missed_ = 0;
  std::uint64_t lost_ = 0;
  double longest_change_s_ = 0;
  int most_bounces_ = 0;
};

}  // namespace lapwright
