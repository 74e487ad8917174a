// The guarded rig for a procedure whose doings stand in the journal: whatever was noted is on the disk before the
// engine or its decoder is told the next thing.
#pragma once

#include "daemon/job_book.h"
#include "drivers/safety/guarded_rig.h"

namespace lapwright {

class KeptRig final : public Rig {
 public:
  /// All outlive it.
  KeptRig(GuardedRig& guard, JobBook& book) : guard_(guard), book_(book) {}

  boost::asio::awaitable<void> drive(ThrottleCommand command) override;
  boost::asio::awaitable<void> halt() override;
  boost::asio::awaitable<CvWriteReply> write_cv(int cv, std::uint8_t value) override;
  boost::asio::awaitable<CvWriteReply> write_cv_bit(int cv, int bit, bool value) override;
  boost::asio::awaitable<std::optional<std::uint8_t>> read_cv(int cv) override;
  boost::asio::awaitable<void> set_route(int route) override;
  boost::asio::awaitable<std::optional<GateEdge>> next_edge(Instant deadline) override;
  [[nodiscard]] double rest_due_s() override { return guard_.rest_due_s(); }
  [[nodiscard]] std::optional<double> track_current_mA() const override { return guard_.track_current_mA(); }

 private:
  boost::asio::awaitable<void> keep();

  GuardedRig& guard_;
  JobBook& book_;
};

}  // namespace lapwright
