// What one setting may be: the small aggregates in which a reading line states its range, count or words.
#pragma once

#include <limits>
#include <string>
#include <string_view>

namespace lapwright::settings {

/// Bounds of a number, in the unit that its key ends with (`length_mm`). `help` says what to give: "the loop's length".
struct Range {
  double min = std::numeric_limits<double>::lowest();
  double max = std::numeric_limits<double>::max();
  std::string_view help = {};
};
struct IntRange {
  int min = std::numeric_limits<int>::min();
  int max = std::numeric_limits<int>::max();
  std::string_view help = {};
};
/// How many items a list has; a list of which at least one is wanted may not be missing.
struct Count {
  int min = 0;
  int max = 10000;
  std::string_view help = {};
};
/// Keys of a map from whole numbers: {"CV3": 28} has the prefix "CV".
struct KeyRule {
  std::string_view prefix = {};
  int min = 0;
  int max = std::numeric_limits<int>::max();
};
template <class Enum>
struct Word {
  std::string_view word;
  Enum value;
};

/// One value that was used, for printing the effective settings.
struct Setting {
  std::string pointer;
  std::string value;  ///< as JSON text
  bool was_default = false;
};

}  // namespace lapwright::settings
