// A parsed JSON value that remembers its line and whether anybody read it.
#pragma once

#include <cstdint>
#include <set>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright::settings {

/// One JSON value. Members of an object and items of a list both stand in `items`, members with their key.
struct Node {
  enum class Kind : std::uint8_t { null, boolean, integer, number, text, list, object };

  Kind kind = Kind::null;
  int line = 1;
  bool read = false;       ///< somebody asked for it
  bool duplicate = false;  ///< of an earlier key; only while parsing
  bool flag = false;
  std::int64_t whole = 0;
  double number = 0;  ///< also set for integers
  std::string text;   ///< of a string; the literal of a number
  std::string key;
  std::vector<Node> items;
  std::set<std::string, std::less<>> asked;  ///< keys that readers of this object know

  [[nodiscard]] Node* find(std::string_view wanted) {
    for (Node& item : items) {
      if (item.key == wanted) return &item;
    }
    return nullptr;
  }
};

/// A mistake and the line by which mistakes are sorted.
struct Complaint {
  int line = 0;
  std::string text;
};

}  // namespace lapwright::settings
