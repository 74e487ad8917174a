// A simulated railway behind the wires of its station and its trackside board, in real time, with faults on demand.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <boost/asio/io_context.hpp>
#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>

#include "drivers/real_clock.h"
#include "drivers/simulated/random.h"
#include "drivers/simulated/served/board_end.h"
#include "drivers/simulated/served/lcc_end.h"
#include "drivers/simulated/served/served_wire.h"

namespace lapwright::simulated {

struct ServedBoard {
  LinkAddress place;
  BoardIdentity identity;
};

struct ServedRigDescription {
  std::string name;
  RailwayDescription railway;
  EngineDescription engine;
  std::uint64_t seed = 1;
  LinkAddress station_place;
  LccEndSettings station;
  std::optional<ServedBoard> board;
};

/// Keep it until the context has run out.
class ServedRig {
 public:
  /// Told when the track becomes live or dead, and of every fault that is switched: for logs, and for tests that ask
  /// how long something took.
  using Note = std::function<void(const std::string&)>;
  ServedRig(const ServedRigDescription& description, boost::asio::io_context& context, Note note);
  /// @throws std::system_error  a port or a name can't be had
  void start(boost::asio::io_context& context);
  void stop();

  [[nodiscard]] const std::string& name() const { return description_.name; }
  /// Where programs reach it, for people.
  [[nodiscard]] std::string where() const;
  /// Switches a fault, or answers "status". @return what was done, for people; see FaultSwitches for the words
  /// @throws std::invalid_argument  not understood, or not possible with this rig: what, and what would be
  std::string tell(const std::string& words);

 private:
  friend class FaultSwitches;
  boost::asio::awaitable<void> watch();
  boost::asio::awaitable<void> gates();
  void mend_links();
  void report(int gate, bool blocked, Duration age);
  /// The track is live where the station and the relay let it; a short makes the rails' voltage collapse all the same.
  void switch_track();
  [[nodiscard]] bool fed() const;
  [[nodiscard]] ServedWire* wire(const std::string& name);
  void from_station(std::string_view bytes);
  [[nodiscard]] std::string status() const;

  ServedRigDescription description_;
  Note note_;
  RealClock clock_;
  SimulatedRig rig_;
  ServedWire station_wire_;
  std::optional<ServedWire> board_wire_;
  LccEnd station_;
  std::optional<BoardEnd> board_;
  Random luck_;
  bool stopped_ = false;
  bool live_ = false;
  bool shorted_ = false;
  bool welded_ = false;  ///< the relay's contacts
  bool silent_ = false;
  int edges_to_lose_ = 0;
  std::map<std::string, Instant> plug_at_, unmute_at_;  ///< by link
};

}  // namespace lapwright::simulated
