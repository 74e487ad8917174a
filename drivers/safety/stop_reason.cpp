#include "drivers/safety/stop_reason.h"

namespace lapwright {

std::string_view code(StopReason reason) {
  switch (reason) {
    case StopReason::asked:
      return "stop-asked";
    case StopReason::over_current:
      return "over-current";
    case StopReason::mean_current:
      return "mean-current";
    case StopReason::running_time:
      return "running-time";
    case StopReason::rig_lost:
      return "rig-lost";
    case StopReason::energised:
      return "energised";
    case StopReason::overspeed:
      return "overspeed";
    case StopReason::moved_at_rest:
      return "moved-at-rest";
    case StopReason::own_fault:
      return "own-fault";
    case StopReason::host_late:
      return "host-late";
    case StopReason::no_sensor:
      return "no-sensor";
    case StopReason::no_passage:
      return "no-passage";
    case StopReason::stalled:
      return "stalled";
    case StopReason::wrong_way:
      return "wrong-way";
    case StopReason::gate_order:
      return "gate-order";
    case StopReason::end_of_track:
      return "end-of-track";
    case StopReason::off_route:
      return "off-route";
    case StopReason::hours_over:
      return "hours-over";
    case StopReason::storage_lost:
      return "storage-lost";
  }
  return "unknown";
}

StopAction action(StopReason reason) {
  switch (reason) {
    case StopReason::running_time:
    case StopReason::hours_over:
    case StopReason::storage_lost:
    case StopReason::stalled:
      return StopAction::park;
    default:
      return StopAction::dead;
  }
}

bool latches(StopReason reason) { return reason != StopReason::running_time && reason != StopReason::hours_over; }

}  // namespace lapwright
