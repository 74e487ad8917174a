#include "daemon/hooks.h"

#include <algorithm>
#include <boost/asio/post.hpp>
#include <chrono>
#include <csignal>
#include <exception>
#include <mutex>
#include <nlohmann/json.hpp>
#include <system_error>
#include <utility>

#include "drivers/settings/wording.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr auto dying_takes = std::chrono::seconds(1);  // a killed process that lives on hangs in the system

/// For one line of the log.
std::string quoted_output(std::string said) {
  while (!said.empty() && (said.back() == '\n' || said.back() == '\r')) said.pop_back();
  for (std::size_t at = 0; (at = said.find('\n', at)) != std::string::npos; at += 3) said.replace(at, 1, " / ");
  return settings::one_line(said);
}

/// Signals are for the loop's thread: one that is born now takes none.
class WithoutSignals {
 public:
  WithoutSignals() {
    sigset_t all;
    sigfillset(&all);
    ::pthread_sigmask(SIG_SETMASK, &all, &before_);
  }
  ~WithoutSignals() { ::pthread_sigmask(SIG_SETMASK, &before_, nullptr); }
  WithoutSignals(const WithoutSignals&) = delete;
  WithoutSignals& operator=(const WithoutSignals&) = delete;

 private:
  sigset_t before_{};
};

}  // namespace

/// Shared with the thread, which outlives everything else here where the system keeps it from ending.
struct Hooks::Run {
  Call call;
  std::atomic<bool> give_up = false;
  std::mutex mutex;                     ///< of the next
  asio::io_context* context = nullptr;  ///< null: nobody listens any more
  Hooks* owner = nullptr;               ///< for the loop's thread alone
  std::promise<void> through;

  HookEnd carry_out() {
    try {
      return run_hook(call.order, RealClock(), give_up);
    } catch (const std::exception& fault) {  // of memory, most likely
      return {std::string("it was given up: ") + fault.what(), {}};
    }
  }

  static void in_thread(const std::shared_ptr<Run>& run) {
    const HookEnd end = run->carry_out();
    {
      const std::lock_guard lock(run->mutex);
      if (run->context != nullptr) {
        asio::post(*run->context, [run, end] {
          if (run->owner != nullptr) run->owner->ended(end);
        });
      }
    }
    run->through.set_value();
  }
};

Hooks::Hooks(asio::io_context& context, HookSettings settings, std::function<void(const std::string&)> tell)
    : context_(context), settings_(std::move(settings)), tell_(std::move(tell)), grace_(context) {}

Hooks::~Hooks() {
  if (!run_) return;
  std::future<void> through = run_->through.get_future();
  run_->give_up = true;
  {
    const std::lock_guard lock(run_->mutex);
    run_->context = nullptr;
  }
  run_->owner = nullptr;
  if (through.wait_for(dying_takes) == std::future_status::ready) {
    thread_.join();
  } else {
    thread_.detach();
  }
}

void Hooks::finished(const nlohmann::json& document) {
  if (settings_.on_finish.empty()) return;
  // A name from a file may hold bytes that are no UTF-8.
  const std::string text = document.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
  add({"on_finish", false, {settings_.on_finish, text, settings_.limit_s}});
}

void Hooks::tripped(const nlohmann::json& document) {
  if (settings_.on_trip.empty()) return;
  const std::string text = document.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n";
  add({"on_trip", true, {settings_.on_trip, text, settings_.limit_s}});
}

void Hooks::add(Call call) {
  if (stopped_) return;
  auto place = waiting_.end();
  if (call.urgent) {
    place = std::find_if(waiting_.begin(), waiting_.end(), [](const Call& each) { return !each.urgent; });
  }
  waiting_.insert(place, std::move(call));
  begin_next();
  if (waiting_.size() > most_waiting) drop_oldest();
}

/// Rather one that only finished.
void Hooks::drop_oldest() {
  auto oldest = std::find_if(waiting_.begin(), waiting_.end(), [](const Call& each) { return !each.urgent; });
  if (oldest == waiting_.end()) oldest = waiting_.begin();
  tell_("hook " + oldest->name + ": " + std::to_string(most_waiting) + " wait already; the oldest is dropped");
  waiting_.erase(oldest);
}

void Hooks::begin_next() {
  while (!run_ && !waiting_.empty()) {
    Call call = std::move(waiting_.front());
    waiting_.pop_front();
    begin(std::move(call));
  }
}

void Hooks::begin(Call call) {
  const auto run = std::make_shared<Run>();
  run->call = std::move(call);
  run->context = &context_;
  run->owner = this;
  try {
    const WithoutSignals quiet;
    thread_ = std::thread(Run::in_thread, run);
  } catch (const std::system_error& error) {
    tell_("hook " + run->call.name + ": it can't be started: " + error.what());
    return;
  }
  run_ = run;
  busy_.emplace(context_.get_executor());
}

void Hooks::ended(const HookEnd& end) {
  thread_.join();
  const std::string who = "hook " + run_->call.name + " (" + run_->call.order.words.front() + "): ";
  if (!end.said.empty()) tell_(who + "it said: " + quoted_output(end.said));
  if (!end.trouble.empty()) tell_(who + end.trouble);
  run_.reset();
  begin_next();
  if (run_) return;
  busy_.reset();
  if (stopped_) done();
}

void Hooks::stop(std::function<void()> when_done) {
  if (stopped_) return;
  stopped_ = true;
  when_done_ = std::move(when_done);
  if (!run_) return done();
  grace_.expires_after(std::chrono::seconds(grace_s));
  grace_.async_wait([this](const boost::system::error_code& error) {
    if (!error && run_) give_up();
  });
}

void Hooks::give_up() {
  if (!waiting_.empty()) tell_("hooks: " + std::to_string(waiting_.size()) + " still wait and are dropped");
  waiting_.clear();
  run_->give_up = true;
  grace_.expires_after(dying_takes);
  grace_.async_wait([this](const boost::system::error_code& error) {
    if (!error && run_) abandon();
  });
}

void Hooks::abandon() {
  tell_("hook " + run_->call.name + ": it can't be killed and is left behind");
  busy_.reset();
  done();
}

void Hooks::done() {
  grace_.cancel();
  const std::function<void()> when_done = std::exchange(when_done_, {});
  if (when_done) when_done();
}

}  // namespace lapwright
