#include "daemon/guarded_session.h"

#include <boost/asio/this_coro.hpp>
#include <utility>

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr Duration settling = std::chrono::milliseconds(10);

}  // namespace

asio::awaitable<SessionEnd> run_guarded(SessionMeans means, asio::awaitable<void> work_to_do,
                                        asio::awaitable<void> settle) {
  const auto executor = co_await asio::this_coro::executor;
  GuardedRig& guard = means.guard;
  StopButton& button = means.button;
  Background watch(executor, guard.watch());
  Background keeping(executor, means.keeper.watch(guard, means.clock, means.observer));
  button.connect_guard(&guard);
  Background work(executor, std::move(work_to_do));
  button.connect_work(&work);
  if (button.pressed()) work.cancel();
  co_await work.wait();
  button.connect_work(nullptr);

  co_await guard.park();
  const bool alive = !guard.stopped() || action(guard.stopped()->reason) != StopAction::dead;
  if (alive) co_await std::move(settle);
  co_await guard.make_safe();
  co_await watch.wait();
  while (button.busy()) co_await means.clock.sleep_for(settling);  // a person's halt still waits in the guard
  keeping.cancel();
  co_await keeping.wait();
  button.connect_guard(nullptr);

  SessionEnd end;
  end.fault = work.failure() ? work.failure() : watch.failure();
  if (!end.fault) end.fault = keeping.failure();
  try {
    co_await means.keeper.finish(guard, means.observer);
  } catch (const FileLost&) {
    if (!end.fault) end.fault = std::current_exception();
  }
  end.broken_off = work.was_cancelled();
  co_return end;
}

}  // namespace lapwright
