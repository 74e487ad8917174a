#include "daemon/store/worker.h"

#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/use_awaitable.hpp>

namespace lapwright {
namespace asio = boost::asio;
namespace {

asio::awaitable<void> done(std::function<void()> work) {
  work();
  co_return;
}

}  // namespace

asio::awaitable<void> InlineWorker::run(std::function<void()> work) {
  work();
  co_return;
}

asio::awaitable<void> ThreadWorker::run(std::function<void()> work) {
  asio::awaitable<void> task = done(std::move(work));
  // Nobody is told of a cancellation before the work is through: it refers to what the caller holds.
  auto to_its_end = asio::bind_cancellation_slot(asio::cancellation_slot(), asio::use_awaitable);
  co_await asio::co_spawn(thread_, std::move(task), std::move(to_its_end));
}

}  // namespace lapwright
