#include "drivers/trackside/introduction.h"

#include <algorithm>
#include <charconv>

namespace lapwright::trackside {
namespace {

constexpr int spoken_version = 1;
constexpr int lease_at_most_ms = 400;  // so that the track is dead half a second after this program fails

std::string untold(const std::string& setting) { return "the board has not told its setting " + setting + " yet"; }

std::optional<int> whole_number_of(const std::string& text) {
  int value = 0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  return error == std::errc() && rest == end ? std::optional(value) : std::nullopt;
}

std::string differing(const std::string& setting, const std::string& told, const std::string& wanted) {
  return "the board's setting " + setting + " is " + told + ", the configuration wants " + wanted +
         "; flash a board with that setting, or correct the configuration";
}

}  // namespace

bool Introduction::is_new(const Hello& hello) const {
  return !hello_ || hello_->epoch != hello.epoch || hello_->serial != hello.serial;
}

/// Others than those wished for are of no use, and nobody knows how many there may be.
void Introduction::hear(const Setting& setting) {
  if (setting.name == "energised_s") energised_s_ = whole_number_of(setting.value);
  const auto is_it = [&setting](const auto& wanted) { return wanted.first == setting.name; };
  if (std::any_of(wish_.settings.begin(), wish_.settings.end(), is_it)) settings_[setting.name] = setting.value;
}

void Introduction::see_lease(int left_ms) { longest_lease_ms_ = std::max(longest_lease_ms_, left_ms); }

void Introduction::forget() {
  hello_.reset();
  settings_.clear();
  energised_s_.reset();
  longest_lease_ms_ = 0;
}

bool Introduction::complete() const {
  const auto told = [this](const auto& setting) { return settings_.contains(setting.first); };
  return hello_ && std::all_of(wish_.settings.begin(), wish_.settings.end(), told);
}

std::string Introduction::trouble() const {
  if (!hello_) return "the board has not said its name yet";
  if (hello_->version != spoken_version) {
    return "the board speaks version " + std::to_string(hello_->version) + " of its protocol, this program version " +
           std::to_string(spoken_version) + "; flash the firmware that came with this program";
  }
  if (hello_->serial != wish_.serial) {
    return "the board is number " + hello_->serial + ", the configuration wants " + wish_.serial +
           "; connect the right one, or correct the configuration";
  }
  for (const auto& [name, value] : wish_.settings) {
    const auto told = settings_.find(name);
    if (told == settings_.end()) return untold(name);
    if (told->second == value) continue;
    return differing(name, told->second, value);
  }
  if (longest_lease_ms_ <= lease_at_most_ms) return {};
  return "the board's lease is " + std::to_string(longest_lease_ms_) + " ms, and may be " +
         std::to_string(lease_at_most_ms) + " at most; flash a board with lease_ms " + std::to_string(lease_at_most_ms);
}

}  // namespace lapwright::trackside
