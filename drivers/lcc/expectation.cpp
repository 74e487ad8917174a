#include "drivers/lcc/expectation.h"

#include "drivers/lcc/node.h"
#include "tuning/rig_fault.h"

namespace lapwright::lcc {
namespace asio = boost::asio;

Expectation::Expectation(Node& node, Test test) : node_(node), opening_(node.openings()), test_(std::move(test)) {
  node_.expectations_.push_back(this);
}

Expectation::~Expectation() { node_.expectations_.remove(this); }

asio::awaitable<std::optional<Message>> Expectation::next(Instant deadline) {
  while (met_.empty()) {
    if (node_.openings() != opening_) throw RigFault("the station's link was lost, and is up again; ask anew");
    if (node_.presence_ == Presence::link_down || node_.presence_ == Presence::duplicate || node_.stopped_) {
      throw RigFault(node_.trouble());
    }
    if (node_.clock_.now() >= deadline) co_return std::nullopt;
    co_await node_.bell_.wait_until(node_.clock_, deadline);
  }
  Message first = std::move(met_.front());
  met_.pop_front();
  co_return first;
}

}  // namespace lapwright::lcc
