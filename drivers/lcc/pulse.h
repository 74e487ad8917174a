// The watch over a train that says nothing by itself: speed commands want no answer, so it is asked now and then.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <functional>
#include <string>

#include "drivers/lcc/train.h"

namespace lapwright::lcc {

/// While the engine's controls are ours its node is asked for its speed (Train Control Standard 4.3) whenever nothing
/// was heard of it for a third of the silence allowed. After the whole of it the controls count as lost; where nothing
/// else was heard either, as of a link that died without a word, the link is opened anew.
class Pulse {
 public:
  /// @param silence  allowed; 0: the train is never asked and never counts as silent
  /// @param busy  the train may take its time: it stands, and a CV access with deadlines of its own is under way
  Pulse(Node& node, Train& train, Duration silence, std::function<bool()> busy);

  /// Until `stop`: spawn it.
  boost::asio::awaitable<void> run();
  void stop();
  /// To be told of every message.
  void hear(const Message& message);

 private:
  boost::asio::awaitable<void> give_up();

  Node& node_;
  Train& train_;
  Duration silence_;
  std::function<bool()> busy_;
  bool watching_ = false;
  bool stopped_ = false;
  Instant heard_{};      ///< the train
  Instant heard_any_{};  ///< node on the bus
  Instant asked_{};
};

}  // namespace lapwright::lcc
