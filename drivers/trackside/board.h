// The trackside board as the rig's gates, current sensor and cut-off relay: the host's side of PROTOCOL.md.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <deque>
#include <optional>
#include <string>

#include "drivers/bell.h"
#include "drivers/edge_source.h"
#include "drivers/links/link_user.h"
#include "drivers/trackside/board_clock.h"
#include "drivers/trackside/introduction.h"

namespace lapwright::trackside {

/// While the relay is wanted closed, and somebody vouches for the engine, the lease is renewed every 100 ms; not
/// renewing is the stop. The board's fault or a lost link makes all operations throw RigFault until the relay is asked
/// for anew; nothing closes it by itself.
class Board final : public LinkUser, public EdgeSource {
 public:
  Board(BoardWish wish, Clock& clock);

  /// Keeps the conversation going until `stop`: spawn it.
  boost::asio::awaitable<void> run();
  void stop();

  /// Closes or opens the relay and sees it done. @throws RigFault  with the reason and what to do
  boost::asio::awaitable<void> set_power(bool on);
  /// Forgets why it opened, on the board too. @param only  empty: a person has looked; otherwise a rule allows it for
  /// that reason alone. @throws RigFault  the cause is still there, or it is another one
  boost::asio::awaitable<void> clear_fault(std::optional<StopReason> only);
  /// The lease may be renewed for another 50 ms. Closing the relay begins with that.
  void vouch() { vouched_ = clock_.now(); }
  /// Opens the relay by the byte that is never queued; does not wait. Never throws: without a link the lease does it.
  void cut();
  /// Stamps are freed from the counter's drift; every boot and every opening of the link begins a new epoch.
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  /// Mean of the last tenth of a second in mA; empty when it is older than 0.3 s.
  [[nodiscard]] std::optional<double> track_current_mA() const;
  /// Empty when it can be energised; otherwise what is in the way, for people.
  [[nodiscard]] std::string trouble() const;
  /// The same, and what kind of stop it is; the board's own faults tell.
  [[nodiscard]] std::optional<Stop> lost() const;
  /// Until the relay opens because it was closed for as long as the board allows; empty: it is open, or not known.
  [[nodiscard]] std::optional<double> left_s() const;
  [[nodiscard]] const std::optional<State>& state() const { return state_; }
  [[nodiscard]] std::optional<double> drift() const { return time_.drift(); }
  [[nodiscard]] const LineCounts& lines() const { return reader_.counts(); }
  [[nodiscard]] int edges_lost() const { return edges_lost_; }  ///< on the board since its boot, as far as it told

  void opened(Outlet& outlet) override;
  void received(std::string_view bytes, Instant heard) override;
  void lost(const std::string& why) override;

 private:
  struct Hearing;  // one overload for each message
  [[nodiscard]] bool may_renew() const;
  /// Up to three times; throws RigFault where no answer comes.
  boost::asio::awaitable<Answer> ask(char kind, std::string fields);
  boost::asio::awaitable<std::optional<Answer>> ask_once(char kind, const std::string& fields);
  boost::asio::awaitable<void> keep_alive();
  boost::asio::awaitable<void> until_next_question();
  boost::asio::awaitable<void> close_relay();
  boost::asio::awaitable<void> open_relay();
  boost::asio::awaitable<bool> relay_becomes(bool closed);
  void check_link() const;
  void check_closing() const;  ///< whether what was awaited left it the right board, and closing still wanted
  void opened_itself(StopReason reason, const std::string& why);
  void was_reset();
  void forget_board();
  void judge_line(bool good);

  Introduction introduction_;
  Clock& clock_;
  Bell bell_;  ///< rung by every line and by every change of the link
  Outlet* outlet_ = nullptr;
  std::string why_down_ = "the board's link was not opened yet";
  LineReader reader_;
  BoardClock time_;
  std::uint32_t epoch_ = 0;
  std::uint8_t sequence_ = 0;
  bool asking_ = false;
  Instant asked_{}, vouched_{};
  std::optional<Answer> answer_;
  std::optional<State> state_;
  Instant state_heard_{};
  std::deque<GateEdge> edges_;
  std::uint16_t edges_lost_ = 0;
  bool leasing_ = false, stopped_ = false;  ///< the lease is being renewed
  bool closed_ = false;                     ///< the relay is wanted closed, and was seen to be
  std::optional<Stop> fault_;              ///< why it opened though it was wanted closed; latched until set_power(true)
  int recent_lines_ = 0, recent_bad_ = 0;  ///< counted for nonsense
  std::uint64_t bad_before_ = 0;
};

}  // namespace lapwright::trackside
