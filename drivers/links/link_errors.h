// Why a link could not be opened.
#pragma once

#include "tuning/rig_fault.h"

namespace lapwright {

/// The device is not there, the peer refuses, access is denied: what, where and the remedy. Trying again may help.
class LinkDown : public RigFault {
 public:
  using RigFault::RigFault;
};

/// Another program holds the device; the text names it.
class LinkInUse : public LinkDown {
 public:
  using LinkDown::LinkDown;
};

}  // namespace lapwright
