#include "daemon/shared_manager.h"

#include <algorithm>

namespace lapwright {

SharedManager::SharedManager(ServiceManager manager, std::vector<std::string> loops) : manager_(std::move(manager)) {
  for (std::string& name : loops) loops_.push_back(Loop{std::move(name)});
}

void SharedManager::tell_ready() {
  const auto waited_for = [](const Loop& loop) { return !loop.ready && !loop.over; };
  if (told_ready_ || std::any_of(loops_.begin(), loops_.end(), waited_for)) return;
  told_ready_ = true;
  manager_.ready();
}

void SharedManager::ready(std::size_t loop) {
  const std::lock_guard guard(lock_);
  loops_.at(loop).ready = true;
  tell_ready();
}

void SharedManager::alive(std::size_t loop, Instant now) {
  const std::lock_guard guard(lock_);
  loops_.at(loop).alive_at = now;
  const std::optional<std::chrono::microseconds> period = manager_.watchdog();
  if (!period) return;
  const auto hangs = [&](const Loop& each) { return !each.over && now - each.alive_at > *period * 3 / 4; };
  if (std::none_of(loops_.begin(), loops_.end(), hangs)) manager_.alive();
}

void SharedManager::stopping(std::size_t loop) {
  const std::lock_guard guard(lock_);
  static_cast<void>(loops_.at(loop));
  if (told_stopping_) return;
  told_stopping_ = true;
  manager_.stopping();
}

void SharedManager::status(std::size_t loop, const std::string& text) {
  const std::lock_guard guard(lock_);
  loops_.at(loop).status = text;
  if (loops_.size() == 1) return manager_.status(text);
  std::string all;
  for (const Loop& each : loops_) all += (all.empty() ? "" : "; ") + each.name + ": " + each.status;
  manager_.status(all);
}

void SharedManager::over(std::size_t loop) {
  const std::lock_guard guard(lock_);
  loops_.at(loop).over = true;
  tell_ready();
}

}  // namespace lapwright
