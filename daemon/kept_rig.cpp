#include "daemon/kept_rig.h"

#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<void> KeptRig::keep() {
  std::string trouble;
  try {
    co_await book_.journal().flush();
  } catch (const FileLost& lost) {
    trouble = lost.what();
  }
  if (trouble.empty()) co_return;
  trouble.insert(0, "what is measured can't be kept: ");
  guard_.stop(Stop{StopReason::storage_lost, trouble});
  throw RigFault(trouble);
}

asio::awaitable<void> KeptRig::drive(ThrottleCommand command) {
  if (command.step > 0) {  // a stop waits for no disk
    book_.runs();
    co_await keep();
  }
  co_await guard_.drive(command);
}

asio::awaitable<void> KeptRig::halt() { co_await guard_.halt(); }

asio::awaitable<CvWriteReply> KeptRig::write_cv(int cv, std::uint8_t value) {
  co_await keep();
  const CvWriteReply reply = co_await guard_.write_cv(cv, value);
  co_return reply;
}

asio::awaitable<CvWriteReply> KeptRig::write_cv_bit(int cv, int bit, bool value) {
  co_await keep();
  const CvWriteReply reply = co_await guard_.write_cv_bit(cv, bit, value);
  co_return reply;
}

asio::awaitable<std::optional<std::uint8_t>> KeptRig::read_cv(int cv) {
  const std::optional<std::uint8_t> answer = co_await guard_.read_cv(cv);
  co_return answer;
}

asio::awaitable<void> KeptRig::set_route(int route) {
  co_await keep();
  co_await guard_.set_route(route);
}

asio::awaitable<std::optional<GateEdge>> KeptRig::next_edge(Instant deadline) {
  const std::optional<GateEdge> edge = co_await guard_.next_edge(deadline);
  co_return edge;
}

}  // namespace lapwright
