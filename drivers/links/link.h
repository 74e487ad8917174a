// One link to one device: opens it, opens it again when it is lost, and passes bytes to and from its protocol driver.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <memory>
#include <string>

#include "drivers/bell.h"
#include "drivers/links/link_address.h"
#include "drivers/links/link_user.h"
#include "drivers/links/traffic_log.h"

namespace lapwright {

struct LinkSettings {
  std::string name;  ///< for people and recordings: "board", "station"
  LinkAddress address;
  Duration silence{};  ///< without a byte for so long the link counts as lost; 0: the driver watches it itself
  Duration first_retry = std::chrono::milliseconds(500);
  Duration longest_retry = std::chrono::seconds(5);
  Duration connect_limit = std::chrono::seconds(5);
};

/// For status and logs.
struct LinkHealth {
  bool up = false;
  std::string why;             ///< while it is down: the reason
  int openings = 0;            ///< successful ones
  Instant since{};             ///< of the present state
  std::uint64_t received = 0;  ///< bytes
  std::uint64_t sent = 0;      ///< bytes taken by the kernel
};

/// Moves nothing by itself after an outage: the driver at its end is told `opened` and decides.
class Link final : public Outlet {
 public:
  /// All outlive the link. @param log  may be null
  Link(LinkSettings settings, LinkUser& user, Clock& clock, TrafficLog* log);
  ~Link() override;

  /// Until `stop`. @throws LinkInUse  at the first opening only: another program, perhaps this one, is at work
  boost::asio::awaitable<void> run();
  void stop();
  [[nodiscard]] const LinkHealth& health() const { return health_; }
  [[nodiscard]] const LinkSettings& settings() const { return settings_; }

  void send(std::string_view bytes) override;
  void send_first(std::string_view bytes) override;
  void cut_in(std::string_view bytes) override;
  void give_up(const std::string& why) override;

 private:
  struct Session;
  enum class Place : std::uint8_t { last, first };
  boost::asio::awaitable<void> open();
  boost::asio::awaitable<void> serve();
  boost::asio::awaitable<void> pause(Duration length);
  void queue(std::string_view bytes, Place place);
  static void pump(const std::shared_ptr<Session>& session);
  void went_down(const std::string& why);

  LinkSettings settings_;
  LinkUser& user_;
  Clock& clock_;
  TrafficLog* log_;
  LinkHealth health_;
  Bell bell_;  ///< rung by `stop`
  bool stopped_ = false;
  std::shared_ptr<Session> session_;  ///< while the link is up
};

}  // namespace lapwright
