// How quantities are stored in configuration variables (NMRA S-9.2.2): shares, momentum, trims, consist functions.
#pragma once

#include <cstdint>
#include <initializer_list>

namespace lapwright::cv {

/// A share 0 … 1 of full, stored as the nearest of 0 … 255. @throws std::out_of_range
[[nodiscard]] std::uint8_t share_to_cv(double share);
/// The share 0 … 1 that a stored value stands for.
[[nodiscard]] constexpr double cv_to_share(std::uint8_t value) { return value / 255.0; }

/// CV3 or CV4 together with CV23 or CV24, whose bits 0-6 are added or, with bit 7, subtracted; limited to 0 … 255.
[[nodiscard]] int effective_momentum(std::uint8_t momentum, std::uint8_t adjustment);
/// Seconds from rest to top (or back) at an effective CV3 (or CV4): 0.896 s for each count.
[[nodiscard]] constexpr double momentum_s(int effective) { return effective * 0.896; }
/// Seconds that one of `steps` speed steps takes.
[[nodiscard]] constexpr double momentum_step_s(int effective, int steps) { return momentum_s(effective) / steps; }

/// Factor of CV66 or CV95 on the drive level: n/128, and 1 for 0, which means that no trim is used.
[[nodiscard]] constexpr double trim_factor(std::uint8_t value) { return value == 0 ? 1.0 : value / 128.0; }

/// CV21: bit n-1 lets function Fn (1 … 8) follow the consist address. @throws std::out_of_range
[[nodiscard]] std::uint8_t consist_functions(std::initializer_list<int> functions);

}  // namespace lapwright::cv
