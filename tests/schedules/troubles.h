// Which faults are there just now.
#pragma once

#include <array>

#include "tests/schedules/fault.h"

namespace lapwright::schedules {

class Troubles {
 public:
  [[nodiscard]] bool on(Kind kind) const { return now_[index(kind)].has_value(); }
  /// The gate that the fault concerns, if it is there.
  [[nodiscard]] bool at_gate(Kind kind, int gate) const { return on(kind) && now_[index(kind)]->gate == gate; }
  void begin(const Fault& fault) { now_[index(fault.kind)] = fault; }
  void end(Kind kind) { now_[index(kind)].reset(); }

 private:
  [[nodiscard]] static std::size_t index(Kind kind) { return static_cast<std::size_t>(kind); }
  std::array<std::optional<Fault>, kinds> now_;
};

}  // namespace lapwright::schedules
