#include "drivers/simulated/track.h"

#include <algorithm>
#include <cmath>

#include "drivers/simulated/random.h"

namespace lapwright::simulated {

namespace {
constexpr double cell_mm = 5;
constexpr int patch_cells = 4;  // unevenness changes over about 20 mm
}  // namespace

Track::Track(const RailwayDescription& railway, std::uint64_t seed)
    : loop_(railway.shape == TrackShape::loop), length_mm_(railway.length_mm) {
  Random gate_luck(seed ^ 0x6761746573ULL);
  for (const Gate& gate : railway.gates) {
    gates_mm_.push_back(gate.position_mm + railway.board.position_error_mm * gate_luck.normal());
  }
  const auto cells = static_cast<std::size_t>(std::ceil(length_mm_ / cell_mm));
  cells_ = static_cast<double>(cells);
  cells_per_mm_ = cells_ / length_mm_;
  per_lap_ = 1 / cells_;
  drag_.assign(cells + 2, 1.0);
  Random rail_luck(seed ^ 0x7261696c73ULL);
  double from = rail_luck.normal();
  for (std::size_t start = 0; start < cells; start += patch_cells) {
    const double to = rail_luck.normal();
    for (std::size_t cell = start; cell < std::min(cells, start + patch_cells); ++cell) {
      const double share = static_cast<double>(cell - start) / patch_cells;
      drag_[cell] += railway.roughness * (from + share * (to - from));
    }
    from = to;
  }
  for (const Stretch& stretch : railway.curves) lay(stretch);
  for (const Stretch& stretch : railway.bindings) lay(stretch);
  for (double& drag : drag_) drag = std::max(drag, 0.2);
  drag_[cells] = loop_ ? drag_[0] : drag_[cells - 1];
  drag_[cells + 1] = drag_[cells];
}

void Track::lay(const Stretch& stretch) {
  for (std::size_t cell = 0; cell < drag_.size(); ++cell) {
    const double at_mm = static_cast<double>(cell) / cells_per_mm_;
    if (at_mm >= stretch.from_mm && at_mm < stretch.to_mm) drag_[cell] += stretch.drag;
  }
}

}  // namespace lapwright::simulated
