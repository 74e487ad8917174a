// What the decoder held, what was written for the work, and what is owed back to it at the end, whatever the end is.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <cstdint>
#include <map>
#include <optional>
#include <set>
#include <stdexcept>
#include <string>

#include "tuning/rig.h"

namespace lapwright {

/// The decoder answered three times with another value than was written, or, though it answers, not at all.
class CvRefused : public std::runtime_error {
 public:
  CvRefused(int cv, std::uint8_t value, bool silent);
};

/// Owned by whoever runs the job, so that it outlives a cancelled procedure. Every CV write of a job goes through it.
class CvLedger {
 public:
  /// Writes unless the decoder is known to hold the value already; three tries, then CvRefused. A decoder that has
  /// answered before and says nothing is asked again, too.
  boost::asio::awaitable<void> write(Rig& rig, int cv, std::uint8_t value);
  /// Writes a value for the time of the work; `original` is owed from now on.
  boost::asio::awaitable<void> lend(Rig& rig, int cv, std::uint8_t value, std::uint8_t original);
  /// Writes back everything that is owed. Debts that can't be paid stay owed and can be tried again; where a decoder
  /// that answers did not confirm one, too.
  boost::asio::awaitable<void> settle(Rig& rig);

  [[nodiscard]] const std::map<int, std::uint8_t>& owed() const { return owed_; }
  [[nodiscard]] const std::map<int, std::uint8_t>& written() const { return written_; }
  /// The value last written or found; empty when not known.
  [[nodiscard]] std::optional<std::uint8_t> known(int cv) const;
  void found(int cv, std::uint8_t value);
  [[nodiscard]] int writes() const { return writes_; }
  void count_write() { ++writes_; }

 private:
  std::map<int, std::uint8_t> found_;
  std::map<int, std::uint8_t> written_;
  std::map<int, std::uint8_t> owed_;
  std::set<int> unconfirmed_;  ///< written to a decoder that answers, and this time it did not
  bool talks_ = false;         ///< the decoder has answered a write
  int writes_ = 0;
};

}  // namespace lapwright
