#include "daemon/hand_over.h"

namespace lapwright {

std::string HandOver::ready(const std::string& engine) {
  if (awaited_.empty()) return "no engine is waited for";
  if (!engine.empty() && engine != awaited_) return awaited_ + " is waited for, not " + engine;
  here_ = true;
  return {};
}

}  // namespace lapwright
