// What a board says of itself, against what it has to be before it is energised.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "drivers/trackside/message.h"

namespace lapwright::trackside {

/// Which board it must be, and how it must be set. Nothing is energised unless all of it is so.
struct BoardWish {
  std::string serial;                                         ///< the board's own number
  std::vector<std::pair<std::string, std::string>> settings;  ///< name and value, in the protocol's order
  std::vector<int> gates;                                     ///< board gate 1 … 8 of each gate of the track
};

class Introduction {
 public:
  explicit Introduction(BoardWish wish) : wish_(std::move(wish)) {}

  /// @returns true: it has booted since the last one
  [[nodiscard]] bool is_new(const Hello& hello) const;
  [[nodiscard]] bool named() const { return hello_.has_value(); }  ///< it has said its name
  void hear(const Hello& hello) { hello_ = hello; }
  void hear(const Setting& setting);
  /// How long its lease really is. @param left_ms  of a state line
  void see_lease(int left_ms);
  /// The link was opened anew, or the board was reset.
  void forget();

  [[nodiscard]] const BoardWish& wish() const { return wish_; }
  /// The longest that it keeps its relay closed; empty: it has not told.
  [[nodiscard]] std::optional<int> energised_s() const { return energised_s_; }
  /// It has said its name and all settings that matter.
  [[nodiscard]] bool complete() const;
  /// Empty: it is the board that was wished for; otherwise what is in the way, for people.
  [[nodiscard]] std::string trouble() const;

 private:
  BoardWish wish_;
  std::optional<Hello> hello_;
  std::map<std::string, std::string> settings_;
  std::optional<int> energised_s_;
  int longest_lease_ms_ = 0;
};

}  // namespace lapwright::trackside
