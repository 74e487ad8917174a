// What the sections of one document share: its nodes, its mistakes and the values that were used.
#pragma once

#include <deque>
#include <string>
#include <vector>

#include "drivers/settings/node.h"
#include "drivers/settings/rules.h"

namespace lapwright::settings {

struct State {
  std::string name;
  Node root;
  std::deque<Node> assumed;  ///< empty objects in place of missing ones
  std::vector<Complaint> complaints;
  std::vector<Setting> effective;

  /// Notes `file:line: pointer: what`. The root's own pointer is empty and left out.
  void complain(int line, const std::string& pointer, const std::string& what) {
    complaints.push_back(
        {line, name + ":" + std::to_string(line) + ": " + (pointer.empty() ? "" : pointer + ": ") + what});
  }
};

}  // namespace lapwright::settings
