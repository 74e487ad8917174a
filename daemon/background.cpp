#include "daemon/background.h"

#include <boost/asio/as_tuple.hpp>
#include <boost/asio/bind_cancellation_slot.hpp>
#include <boost/asio/cancellation_signal.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/error.hpp>
#include <boost/asio/multiple_exceptions.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/system/system_error.hpp>

namespace lapwright {
namespace asio = boost::asio;

struct Background::State {
  explicit State(const asio::any_io_executor& executor) : ended(executor, asio::steady_timer::time_point::max()) {}
  asio::cancellation_signal cancellation;
  asio::steady_timer ended;  // cancelled when the work has ended, to wake who waits
  std::exception_ptr failure;
  bool done = false;
  bool asked_to_end = false;
  bool cancelled = false;
};

namespace {

bool is_cancellation(const std::exception_ptr& failure) {
  try {
    std::rethrow_exception(failure);
  } catch (const boost::system::system_error& error) {
    return error.code() == asio::error::operation_aborted;
  } catch (const asio::multiple_exceptions& several) {  // of an "a || b" that was cancelled
    return is_cancellation(several.first_exception());
  } catch (const std::exception&) {
    return false;
  }
}

}  // namespace

Background::Background(const asio::any_io_executor& executor, asio::awaitable<void> work)
    : state_(std::make_shared<State>(executor)) {
  auto when_ended = [state = state_](const std::exception_ptr& failure) {
    state->done = true;
    state->cancelled = failure && state->asked_to_end && is_cancellation(failure);
    if (!state->cancelled) state->failure = failure;
    state->ended.cancel();
  };
  asio::co_spawn(executor, std::move(work),
                 asio::bind_cancellation_slot(state_->cancellation.slot(), std::move(when_ended)));
}

void Background::cancel() {
  if (state_->done) return;
  state_->asked_to_end = true;
  state_->cancellation.emit(asio::cancellation_type::terminal);
}

bool Background::done() const { return state_->done; }
bool Background::was_cancelled() const { return state_->cancelled; }
std::exception_ptr Background::failure() const { return state_->failure; }

asio::awaitable<void> Background::wait() {
  const std::shared_ptr<State> state = state_;
  if (!state->done) {
    // However the wait ends, it ends because the work did: nobody else touches the timer.
    const auto [error] = co_await state->ended.async_wait(asio::as_tuple(asio::use_awaitable));
    if (!state->done) throw boost::system::system_error(error);  // the waiting coroutine itself was cancelled
  }
}

}  // namespace lapwright
