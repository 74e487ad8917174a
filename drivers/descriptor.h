// A file descriptor that is closed by whoever holds it last.
#pragma once

#include <unistd.h>

#include <utility>

namespace lapwright {

class Descriptor {
 public:
  /// @param number  negative: none, as a failed open returns
  explicit Descriptor(int number) : number_(number) {}
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  [[nodiscard]] int number() const { return number_; }
  /// Somebody else closes it from now on.
  int release() { return std::exchange(number_, -1); }

 private:
  int number_;
};

}  // namespace lapwright
