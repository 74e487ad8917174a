// The owner's own commands, started when something has ended or tripped: whatever becomes of them, it is a line of the
// log and nothing else.
#pragma once

#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <deque>
#include <functional>
#include <future>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <thread>

#include "daemon/hook_process.h"
#include "daemon/hook_settings.h"
#include "drivers/real_clock.h"

namespace lapwright {

/// One command runs at a time, in a thread of its own: not even starting it keeps the loop from looking at the track.
class Hooks {
 public:
  static constexpr std::size_t most_waiting = 8;  ///< beside the one that runs; then the oldest is dropped
  static constexpr int grace_s = 2;               ///< for all that is left to be told when the service ends

  /// @param tell  gets lines for the log, in the loop. The context outlives this.
  Hooks(boost::asio::io_context& context, HookSettings settings, std::function<void(const std::string&)> tell);
  /// Kills what runs.
  ~Hooks();
  Hooks(const Hooks&) = delete;
  Hooks& operator=(const Hooks&) = delete;

  /// Starts `on_finish` with this document on its stdin, as soon as those before it are through.
  void finished(const nlohmann::json& document);
  /// The same with `on_trip`, ahead of all that only finished.
  void tripped(const nlohmann::json& document);
  /// Takes no more. What runs or waits gets `grace_s`, then it is killed or dropped. The context does not run out
  /// before. @param when_done  called once nothing runs any more
  void stop(std::function<void()> when_done = {});

 private:
  struct Call {
    std::string name;  ///< of its setting
    bool urgent = false;
    HookOrder order;
  };
  struct Run;

  void add(Call call);
  void drop_oldest();
  void begin_next();
  void begin(Call call);
  void ended(const HookEnd& end);
  void give_up();
  void abandon();
  void done();

  boost::asio::io_context& context_;
  HookSettings settings_;
  std::function<void(const std::string&)> tell_;
  std::deque<Call> waiting_;  ///< urgent ones first
  std::shared_ptr<Run> run_;  ///< none runs: empty
  std::thread thread_;
  std::optional<boost::asio::executor_work_guard<boost::asio::io_context::executor_type>> busy_;
  boost::asio::steady_timer grace_;
  std::function<void()> when_done_;
  bool stopped_ = false;
};

}  // namespace lapwright
