#include "daemon/service.h"

#include <spdlog/sinks/stdout_sinks.h>
#include <spdlog/spdlog.h>

#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/steady_timer.hpp>
#include <csignal>
#include <cstring>
#include <exception>
#include <memory>
#include <nlohmann/json.hpp>
#include <optional>
#include <utility>

#include "daemon/control_socket.h"
#include "daemon/exit_codes.h"
#include "daemon/hook_observer.h"
#include "daemon/hooks.h"
#include "daemon/log_observer.h"
#include "daemon/queue_desk.h"
#include "daemon/shift.h"
#include "daemon/simulated_stand.h"
#include "daemon/status_board.h"
#include "daemon/store/durable_file.h"
#include "daemon/store/state_lock.h"
#include "daemon/wired_stand.h"
#include "drivers/real_clock.h"
#include "tuning/rig_fault.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

bool is_ignored(int signal) {
  struct sigaction now {};
  return ::sigaction(signal, nullptr, &now) == 0 && now.sa_handler == SIG_IGN;
}

std::shared_ptr<spdlog::logger> make_log(const std::string& name, const std::string& level) {
  auto log = std::make_shared<spdlog::logger>(name, std::make_shared<spdlog::sinks::stderr_sink_mt>());
  log->set_level(spdlog::level::from_str(level));
  return log;
}

/// The parts of a running service, in the order in which they depend on each other.
class Service final : public RunningService, public ControlDesk {
 public:
  Service(const Configuration& configuration, const std::vector<Job>& jobs, ServeOptions options, ManagedLoop manager)
      : configuration_(configuration),
        options_(std::move(options)),
        log_(make_log(options_.log_name, configuration.log_level)),
        manager_(manager),
        lock_(configuration.state),
        memory_(storage_, configuration.state, calendar_, configuration.caps, configuration.retry),
        journal_(storage_, worker_, configuration.state / "journal", calendar_),
        book_(journal_, calendar_),
        shift_{configuration.railway,
               [this](const QueueEntry& entry) {
                 return load_job({entry.record_file, entry.sheet_file, entry.work}, configuration_);
               },
               configuration.limits,
               configuration.hours,
               configuration.reports,
               configuration.leave},
        desk_(configuration, book_, hand_over_, button_),
        board_(configuration.railway),
        log_lines_(log_),
        observers_({&log_lines_, &board_}),
        signals_(context_),
        alive_(context_),
        control_(context_, configuration.control_socket, *this),
        hooks_(context_, configuration.hooks, [this](const std::string& line) { log_->warn("{}", line); }),
        hook_events_(hooks_, configuration.railway, configuration.reports, calendar_) {
    if (options_.anew) {
      book_.begin(jobs);
    } else {
      book_.take_up(jobs);
    }
    for (const int signal : {SIGTERM, SIGINT, SIGQUIT}) signals_.add(signal);
    if (!is_ignored(SIGHUP)) signals_.add(SIGHUP);  // as under nohup: whoever closes the terminal wants it to go on
    observers_.add(hook_events_);
    board_.on_event([this](const std::string& line) { control_.publish(line); });
    log_->info("control socket {}", configuration.control_socket.string());
    if (!options_.record.empty()) traffic_.emplace(options_.record, clock_);
    if (!configuration.wires) {
      stand_ = std::make_unique<SimulatedStand>(configuration.rig, clock_);
      button_.connect_stand(stand_.get());
      return;
    }
    auto wired = std::make_unique<WiredStand>(*configuration.wires, clock_, traffic_ ? &*traffic_ : nullptr,
                                              [this](const std::string& why) { waits(why); });
    wired_ = wired.get();
    stand_ = std::move(wired);
    button_.connect_stand(stand_.get());
  }

  int run() override {
    await_signal();
    set_state("starting", "");
    if (manager_.watchdog()) say_alive(*manager_.watchdog() / 2);
    if (wired_ != nullptr) {
      wired_->start(context_, [this](const std::exception_ptr& failure) {
        if (!failure_) failure_ = failure;
        stop_in_order();
      });
    }
    manager_.ready();  // also while it waits for hardware
    const std::optional<Trip> trip = memory_.trip();
    if (trip && !trip->again) {
      ShiftResult nothing;
      nothing.rig_lost = true;
      nothing.needs_person = true;
      shift_ended(nullptr, nothing);
    } else {
      if (book_.ended()) log_->info("every engine of the shift was seen through before; --anew begins it again");
      begin_shift(false);
    }
    context_.run();
    if (failure_) std::rethrow_exception(failure_);
    return debts_ || (options_.once && !stopped_by_signal_ && needs_person_) ? exit_needs_person : exit_ok;
  }

  [[nodiscard]] std::string status_line() const override { return board_.status_line(); }

  [[nodiscard]] std::string check_line() const override {
    nlohmann::json lines = nlohmann::json::array();
    const CheckLines checks = stand_->checks();
    for (const CheckLine& check : checks) {
      nlohmann::json line = {{"what", check.what}, {"text", check.text}, {"good", nullptr}};
      if (check.good) line["good"] = *check.good;
      lines.push_back(std::move(line));
    }
    const std::optional<Trip> trip = memory_.trip();
    const bool free = !trip || trip->again;
    lines.push_back({{"what", "trip"}, {"good", free}, {"text", free ? "none" : tripped(*trip)}});
    const std::optional<FileLost> storage = trouble_of_storage(memory_.storage(), {memory_.folder(), shift_.reports});
    lines.push_back({{"what", "storage"}, {"good", !storage}, {"text", storage ? storage->what() : "writes"}});
    return text_of({{"checks", lines}, {"good", first_trouble(checks).empty() && free && !storage}});
  }

  asio::awaitable<std::string> halt() override {
    log_->warn("halt was asked for at the control socket");
    if (options_.halt_others) options_.halt_others("a person at the control socket of " + options_.log_name);
    const std::string doubt = co_await halt_for("a person at the control socket", "halted at the control socket");
    const std::string also = options_.halt_others ? "; the other loops were told to halt, too: look at them" : "";
    const std::string text = doubt.empty() ? "the engine is halted and the track is dead" : doubt;
    co_return text_of({{"halted", doubt.empty()}, {"text", text + also}});
  }

  void halt_from_elsewhere(const std::string& who) override {
    asio::post(context_, [this, who] {
      if (ended_) return;
      log_->warn("halt was asked for by {}", who);
      const auto told = [this](const std::exception_ptr& failure, const std::string&) {
        if (failure && !failure_) failure_ = failure;
      };
      asio::co_spawn(context_, halt_for(who, "halted by " + who), told);
    });
  }

  asio::awaitable<std::string> clear() override {
    const bool something = memory_.trip() || book_.next();
    if (!shift_over_ || ended_ || clearing_ || !something) {
      co_return cleared(false, shift_over_ ? "nothing has tripped, and the shift is over" : "nothing has tripped");
    }
    std::string still;
    clearing_ = true;  // another client may ask meanwhile
    try {
      co_await stand_->clear(std::nullopt);
      memory_.clear();
    } catch (const RigFault& fault) {
      still = fault.what();
    } catch (const FileLost& lost) {
      still = lost.what();
    }
    clearing_ = false;
    if (ended_) still = "the service has ended meanwhile";
    if (!still.empty()) co_return cleared(false, still);
    log_->warn("a person has cleared the trip");
    button_.release();
    const std::optional<QueueEntry> next = book_.next();
    const bool more = next && !book_.queue().paused;
    if (more) begin_shift(true);
    if (!more) set_state("idle", why_idle());
    co_return cleared(true, more ? "the shift goes on with " + next->engine : why_idle());
  }

  asio::awaitable<std::string> queue(nlohmann::json request) override {
    const nlohmann::json answer = desk_.answer(request);
    const std::string told = answer["text"];
    if (answer["done"] == true && !told.empty()) log_->info("queue: {}", told);
    // What a person was told stands also after a crash.
    co_await book_.journal().flush();
    const bool free = shift_over_ && !ended_ && !memory_.trip() && !button_.pressed();
    if (free && !clearing_ && book_.next() && !book_.queue().paused) begin_shift(false);
    co_return text_of(answer);
  }

 private:
  [[nodiscard]] std::string to_go_on() const {
    const bool has_yard = !configuration_.staging.berths.empty();
    const char* const put_back = has_yard ? ", and engines are back on their staging tracks" : "";
    return std::string("when you have looked") + put_back + ", go on with: lapwright clear";
  }

  [[nodiscard]] std::string tripped(const Trip& trip) const {
    return "tripped: " + trip_sentence(trip) + "; " + to_go_on();
  }
  static std::string cleared(bool done, const std::string& text) {
    return text_of({{"cleared", done}, {"text", text}});
  }
  /// A name from a file may hold bytes that are no UTF-8.
  static std::string text_of(const nlohmann::json& answer) {
    return answer.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  }

  [[nodiscard]] std::string why_idle() const {
    if (book_.queue().paused && book_.next()) return "paused; go on with: lapwright queue resume";
    return "the shift is over, the track is dead";
  }

  void begin_shift(bool set_down) {
    shift_over_ = false;
    set_state("working", "");
    const bool has_yard = !configuration_.staging.berths.empty();
    HandOver* const by_hand = wired_ != nullptr || has_yard ? &hand_over_ : nullptr;
    const ShiftMeans means{*stand_, clock_, calendar_, memory_, book_, button_, observers_, by_hand, set_down};
    asio::co_spawn(context_, run_shift(shift_, means),
                   [this](const std::exception_ptr& failure, const ShiftResult& result) {
                     if (!failure && !stopped_by_signal_) hook_events_.shift_ends(result, book_.queue());
                     shift_ended(failure, result);
                   });
  }

  /// @returns what is in doubt; empty: it was seen to be done
  asio::awaitable<std::string> halt_for(std::string who, std::string done) {
    std::string doubt = co_await make_dead(who);
    set_state("dead", (doubt.empty() ? done : doubt) + "; " + to_go_on());
    if (!doubt.empty()) log_->error("{}", doubt);
    co_return doubt;
  }

  /// Also where no job runs: nothing begins before a person has cleared it.
  asio::awaitable<std::string> make_dead(std::string who) {
    const bool guarded = button_.guarded();
    std::string doubt = co_await button_.make_dead(who);
    if (guarded) co_return doubt;  // its guard's stop is kept with the job's
    try {
      memory_.keep("", Stop{StopReason::asked, who + " asked to make the track dead at once"});
    } catch (const FileLost& lost) {
      log_->error("a restart will not know that it was halted: {}", lost.what());
    }
    co_return doubt;
  }

  void waits(const std::string& why) {
    log_->info("{}", why.empty() ? "the hardware is there" : why);
    set_state(why.empty() ? "working" : "waiting", why);
  }

  void set_state(const std::string& state, const std::string& text) {
    board_.set_state(state, text);
    manager_.status(text.empty() ? state : state + ": " + text);
  }

  /// From the loop that does everything else, and for the guard of an engine at work: when one of them hangs, the
  /// manager hears nothing.
  void say_alive(Duration period) {
    if (button_.guard_awake()) manager_.alive(clock_.now());
    alive_.expires_after(period);
    alive_.async_wait([this, period](const boost::system::error_code& error) {
      if (!error && !over_) say_alive(period);
    });
  }

  /// The engine under work is brought to rest before anything ends; `shift_ended` does the rest.
  void stop_in_order() {
    button_.stop();
    if (wired_ != nullptr) wired_->stop_waiting();
  }

  void await_signal() {
    signals_.async_wait([this](const boost::system::error_code& error, int signal) {
      if (error) return;
      on_signal(signal);
      if (!ended_) await_signal();
    });
  }

  void on_signal(int signal) {
    const std::string name = std::string("SIG") + ::sigabbrev_np(signal);
    if (shift_over_) return end();
    if (!stopped_by_signal_) {
      stopped_by_signal_ = true;
      log_->info("{}: stopping in order; once more to make the track dead at once", name);
      set_state("stopping", name);
      manager_.stopping();
      stop_in_order();
      return;
    }
    log_->warn("{} again: making the track dead at once", name);
    const auto told = [this](const std::exception_ptr& failure, const std::string& doubt) {
      if (failure) std::rethrow_exception(failure);
      log_->warn("{}", doubt.empty() ? "the track is dead" : doubt);
    };
    asio::co_spawn(context_, make_dead("a second " + name), told);
  }

  void shift_ended(const std::exception_ptr& failure, const ShiftResult& result) {
    shift_over_ = true;
    if (!failure_) failure_ = failure;
    needs_person_ = result.needs_person;
    for (const ShiftTurn& turn : result.turns) debts_ = debts_ || !turn.result.owed.empty();
    if (!result.turns.empty()) left_dead_ = result.turns.back().result.left_dead;
    if (!result.trouble.empty() && !button_.pressed()) log_->error("{}", result.trouble);
    if (options_.once && !stopped_by_signal_ && memory_.trip()) log_->error("{}", tripped(*memory_.trip()));
    if (failure_ || stopped_by_signal_ || options_.once) return end();
    std::string why = why_idle();
    if (!result.trouble.empty()) why = result.trouble + "; " + to_go_on();
    if (const auto trip = memory_.trip()) why = tripped(*trip);
    const bool dead = result.rig_lost || memory_.trip();
    set_state(dead ? "dead" : "idle", why);
    log_->info("{}", why);
  }

  void end() {
    ended_ = true;
    if (left_dead_) log_->info("stopped: engine halted, track power off");
    if (!left_dead_) log_->error("stopped, and the track may still be live: switch the supply off by hand");
    control_.close();
    signals_.cancel();
    hooks_.stop([this] {  // until then the manager is to hear of us
      over_ = true;
      alive_.cancel();
    });
    if (wired_ != nullptr) wired_->stop();
  }

  const Configuration& configuration_;
  ServeOptions options_;
  std::shared_ptr<spdlog::logger> log_;
  RealClock clock_;
  ManagedLoop manager_;
  std::optional<TrafficLog> traffic_;
  std::unique_ptr<TestStand> stand_;
  WiredStand* wired_ = nullptr;  ///< the same, if it is one
  RealCalendar calendar_;
  StateLock lock_;
  RealStorage storage_;
  ShiftMemory memory_;
  ThreadWorker worker_;
  Journal journal_;
  ShiftBook book_;
  Shift shift_;
  StopButton button_;
  HandOver hand_over_;
  QueueDesk desk_;
  StatusBoard board_;
  LogObserver log_lines_;
  ShiftObservers observers_;
  asio::io_context context_;
  asio::signal_set signals_;
  asio::steady_timer alive_;
  ControlSocket control_;
  Hooks hooks_;
  HookObserver hook_events_;
  std::exception_ptr failure_;
  bool shift_over_ = false;
  bool clearing_ = false;
  bool ended_ = false;  ///< nothing runs any more, and nothing begins
  bool over_ = false;   ///< and no hook runs
  bool stopped_by_signal_ = false;
  bool needs_person_ = false;
  bool debts_ = false;
  bool left_dead_ = true;  ///< by the last engine's job
};

}  // namespace

std::unique_ptr<RunningService> make_service(const Configuration& configuration, const std::vector<Job>& jobs,
                                             ServeOptions options, ManagedLoop manager) {
  return std::make_unique<Service>(configuration, jobs, std::move(options), manager);
}

}  // namespace lapwright
