// What a fuzz target states: a property that holds for every input. Broken, it ends the process, which both libFuzzer
// and the replay program take for a finding.
#pragma once

#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <string>
#include <string_view>

/// libFuzzer's entry point; its name and signature are the library's.
extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace lapwright::fuzz {

/// @param holds  the property  @param what  what is broken where it does not hold
inline void property(bool holds, std::string_view what) {
  if (holds) return;
  std::fprintf(stderr, "broken property: %.*s\n", static_cast<int>(what.size()), what.data());
  std::abort();
}

inline std::string_view text(const std::uint8_t* data, std::size_t size) {
  return size == 0 ? std::string_view() : std::string_view(reinterpret_cast<const char*>(data), size);
}

}  // namespace lapwright::fuzz
