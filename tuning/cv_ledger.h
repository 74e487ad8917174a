// What the decoder held, what was written for the work, and what is owed back to it at the end, whatever the end is.
#pragma once

#include <boost/asio/awaitable.hpp>
#include <optional>
#include <stdexcept>

#include "tuning/cv_memory.h"

namespace lapwright {

/// The decoder answered three times with another value than was written, or, though it answers, not at all.
class CvRefused : public std::runtime_error {
 public:
  CvRefused(int cv, std::uint8_t value, bool silent);
};

/// Owned by whoever runs the job, so that it outlives a cancelled procedure. Every CV write of a job goes through it.
class CvLedger {
 public:
  CvLedger() = default;
  /// @param memory  of a job that was broken off. @param notes  told of everything; may be null, outlives the ledger
  CvLedger(CvMemory memory, CvNotes* notes) : memory_(std::move(memory)), notes_(notes) {}

  /// Writes unless the decoder is known to hold the value already; three tries, then CvRefused. A decoder that has
  /// answered before and says nothing is asked again, too.
  boost::asio::awaitable<void> write(Rig& rig, int cv, std::uint8_t value);
  /// Sets one bit of a CV whose other bits need not be known.
  boost::asio::awaitable<CvWriteReply> set_bit(Rig& rig, int cv, int bit);
  /// Writes a value for the time of the work; `original` is owed from now on.
  boost::asio::awaitable<void> lend(Rig& rig, int cv, std::uint8_t value, std::uint8_t original);
  /// Writes back everything that is owed. Debts that can't be paid stay owed and can be tried again; where a decoder
  /// that answers did not confirm one, too.
  boost::asio::awaitable<void> settle(Rig& rig);

  [[nodiscard]] const CvMemory& memory() const { return memory_; }
  [[nodiscard]] const CvValues& owed() const { return memory_.owed; }
  [[nodiscard]] const CvValues& written() const { return memory_.written; }
  /// The value last written or found; empty when not known.
  [[nodiscard]] std::optional<std::uint8_t> known(int cv) const;
  void found(int cv, std::uint8_t value);
  /// CV257 … 512 stand for others now: the index has been, or will be, moved.
  void forget_indexed();
  [[nodiscard]] int writes() const { return memory_.writes; }

 private:
  CvMemory memory_;
  CvNotes* notes_ = nullptr;
};

}  // namespace lapwright
