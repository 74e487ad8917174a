#include "tuning/rig.h"

#include "tuning/rig_fault.h"

namespace lapwright {

boost::asio::awaitable<void> Rig::set_route(int /*route*/) {
  throw RigFault("this rig sets no turnouts; take /staging out of the configuration, or describe them there");
  co_return;
}

}  // namespace lapwright
