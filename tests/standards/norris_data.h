// NIST Statistical Reference Datasets, linear regression, "Norris": 36 readings and the certified least-squares line.
#pragma once

#include <array>

namespace lapwright::norris {

struct Reading {
  double y, x;
};

/// From memory; statistics_test.cpp shows that the certified values come out of them to ten digits, so they are right.
inline constexpr std::array<Reading, 36> readings{{
    {0.1, 0.2},     {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6}, {9.2, 10.1},    {228.1, 226.5},
    {668.5, 666.3}, {998.5, 996.3}, {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
    {0.1, 0.6},     {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0}, {448.9, 447.5}, {10.8, 11.6},
    {557.7, 556.0}, {228.3, 228.1}, {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
    {0.6, 0.3},     {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2}, {998.5, 999.0}, {778.9, 779.0},
    {10.2, 11.1},   {117.6, 118.3}, {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5},
}};

// Certified values (from memory).
inline constexpr long double intercept = -0.262323073774029L;
inline constexpr long double slope = 1.00211681802045L;
inline constexpr long double intercept_error = 0.232818234301152L;
inline constexpr long double slope_error = 0.429796848199937e-03L;
inline constexpr long double residual_sd = 0.884796396144373L;

}  // namespace lapwright::norris
