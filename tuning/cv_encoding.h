// How quantities are stored in configuration variables (NMRA S-9.2.2): shares and consist functions.
#pragma once

#include <cstdint>
#include <initializer_list>

namespace lapwright::cv {

/// A share 0 … 1 of full, stored as the nearest of 0 … 255. @throws std::out_of_range
[[nodiscard]] std::uint8_t share_to_cv(double share);
/// The share 0 … 1 that a stored value stands for.
[[nodiscard]] constexpr double cv_to_share(std::uint8_t value) { return value / 255.0; }

/// CV21: bit n-1 lets function Fn (1 … 8) follow the consist address. @throws std::out_of_range
[[nodiscard]] std::uint8_t consist_functions(std::initializer_list<int> functions);

}  // namespace lapwright::cv
