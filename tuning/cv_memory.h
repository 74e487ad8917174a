// What is known of a decoder's memory during a job, and who is told of every change: enough to go on after a crash.
#pragma once

#include <cstdint>
#include <map>
#include <set>

#include "tuning/rig.h"

namespace lapwright {

/// Values by CV number.
using CvValues = std::map<int, std::uint8_t>;

struct CvMemory {
  CvValues found;             ///< read, not changed since
  CvValues written;           ///< sent, and not known to be refused
  CvValues owed;              ///< originals of what was changed for the time of the work
  std::set<int> unconfirmed;  ///< written to a decoder that answers, and this time it did not
  bool talks = false;         ///< the decoder has answered a write
  int writes = 0;

  // The same steps in which a ledger goes, for whoever has kept them.
  void note_found(int cv, std::uint8_t value) { found[cv] = value; }
  void note_owed(int cv, std::uint8_t original) { owed.emplace(cv, original); }
  /// Until the write is through, the value is not known, and what was found before is certainly old.
  void note_sending(int cv);
  void note_sent(int cv, std::uint8_t value, CvWriteReply reply);
  void note_paid(int cv) { owed.erase(cv); }
};

/// Told as it happens, of a change before the decoder is told; must not block.
class CvNotes {
 public:
  virtual ~CvNotes() = default;
  virtual void found(int cv, std::uint8_t value) = 0;
  virtual void owed(int cv, std::uint8_t original) = 0;
  virtual void sending(int cv, std::uint8_t value) = 0;
  virtual void sending_bit(int cv, int bit, bool value) = 0;
  virtual void sent(int cv, std::uint8_t value, CvWriteReply reply) = 0;
  virtual void paid(int cv) = 0;
};

}  // namespace lapwright
