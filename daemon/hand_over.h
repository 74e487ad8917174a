// Engines come onto the track by a person's hands: the shift waits, with the track dead, until somebody says that the
// next one stands there.
#pragma once

#include <string>

namespace lapwright {

class HandOver {
 public:
  /// The shift waits for that engine from now on.
  void await_engine(std::string title) {
    awaited_ = std::move(title);
    here_ = false;
  }
  void await_nobody() { awaited_.clear(); }
  /// Title of the engine that is waited for; empty: none is.
  [[nodiscard]] const std::string& awaited() const { return awaited_; }
  [[nodiscard]] bool here() const { return here_; }

  /// A person says so. @param engine  which one, if it was told. @returns why that is not taken; empty: it is
  [[nodiscard]] std::string ready(const std::string& engine);

 private:
  std::string awaited_;
  bool here_ = false;
};

}  // namespace lapwright
