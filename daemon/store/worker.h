// Where writes wait for the disk: beside the loop that watches the engine, or, on a virtual clock, at once.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/thread_pool.hpp>
#include <functional>

namespace lapwright {

class Worker {
 public:
  virtual ~Worker() = default;
  /// Completes when `work` is through, also where the caller was cancelled meanwhile. Throws what it throws.
  virtual boost::asio::awaitable<void> run(std::function<void()> work) = 0;
};

/// Time stands still meanwhile.
class InlineWorker final : public Worker {
 public:
  boost::asio::awaitable<void> run(std::function<void()> work) override;
};

/// One thread: a disk that takes long must not keep the guard from looking.
class ThreadWorker final : public Worker {
 public:
  boost::asio::awaitable<void> run(std::function<void()> work) override;

 private:
  boost::asio::thread_pool thread_{1};
};

}  // namespace lapwright
