// Finds the statements with co_await that g++ 12 is known to miscompile.
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace lapwright::house {

struct Trap {
  std::size_t line = 0;  ///< on which the statement ends, from 1
  std::string what;
};

/// A statement may hold one co_await, and beside it no braced initialiser, no capturing lambda and no "?:". Lambda
/// bodies are statements of their own. No parser: it is exact for code that clang-format has laid out.
[[nodiscard]] std::vector<Trap> await_traps(std::string_view text);

}  // namespace lapwright::house
