// A coroutine that runs beside its owner: it can be cancelled, and waited for, whatever its end is.
#pragma once

#include <boost/asio/any_io_executor.hpp>
#include <boost/asio/awaitable.hpp>
#include <exception>
#include <memory>

namespace lapwright {

/// Single-threaded. The owner keeps what the coroutine refers to until `wait` is through.
class Background {
 public:
  Background(const boost::asio::any_io_executor& executor, boost::asio::awaitable<void> work);
  Background(const Background&) = delete;
  Background& operator=(const Background&) = delete;

  void cancel();
  [[nodiscard]] bool done() const;
  /// Until it has ended. Throws nothing of the work's.
  boost::asio::awaitable<void> wait();
  /// What ended it, if it was an exception and no cancellation that was asked for.
  [[nodiscard]] std::exception_ptr failure() const;
  /// It ended by `cancel`.
  [[nodiscard]] bool was_cancelled() const;

 private:
  struct State;
  std::shared_ptr<State> state_;
};

}  // namespace lapwright
