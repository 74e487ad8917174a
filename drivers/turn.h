// One at a time: holds a device's attention until the coroutine that has it is through or cancelled.
#pragma once

#include "drivers/bell.h"

namespace lapwright {

/// Whoever wants the next turn waits on the bell until the flag is down.
class Turn {
 public:
  Turn(bool& taken, Bell& bell) : taken_(taken), bell_(bell) { taken_ = true; }
  ~Turn() {
    taken_ = false;
    bell_.ring();
  }
  Turn(const Turn&) = delete;
  Turn& operator=(const Turn&) = delete;

 private:
  bool& taken_;
  Bell& bell_;
};

}  // namespace lapwright
