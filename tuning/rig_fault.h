// Why the rig no longer obeys: the one exception that ends a procedure from below.
#pragma once

#include <stdexcept>
#include <string>

namespace lapwright {

/// The rig is lost, refuses, or was made dead by the safety layer; the text says what, where and what to do.
class RigFault : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

}  // namespace lapwright
