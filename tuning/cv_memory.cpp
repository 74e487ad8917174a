#include "tuning/cv_memory.h"

namespace lapwright {

void CvMemory::note_sending(int cv) {
  ++writes;
  written.erase(cv);
  found.erase(cv);
}

void CvMemory::note_sent(int cv, std::uint8_t value, CvWriteReply reply) {
  const bool confirmed = reply == CvWriteReply::confirmed;
  talks = talks || confirmed || reply == CvWriteReply::refused;
  if (reply == CvWriteReply::refused || reply == CvWriteReply::unsupported) return;
  written[cv] = value;
  unconfirmed.erase(cv);
  if (talks && !confirmed) unconfirmed.insert(cv);
}

}  // namespace lapwright
