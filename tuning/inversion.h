// From the response back to CVs: one table and two trims that serve both directions, integer rounding included.
#pragma once

#include <array>
#include <vector>

#include "tuning/drive.h"
#include "tuning/response.h"

namespace lapwright {

/// Wanted speed of one table entry, in model units (the sheet's top speed is 18).
struct EntryAim {
  double speed = 0;
  double tolerance = 0;
};
using EntryAims = std::array<EntryAim, cv::table_entries>;

/// The warm response of one direction as a rising curve over drive 0 … 255, for quick evaluation and inversion.
class RisingCurve {
 public:
  RisingCurve(const Response& response, Direction direction);
  /// Speed in units at a drive, rounded as the decoder is thought to round it.
  [[nodiscard]] double speed(double drive) const;
  /// Smallest drive that reaches the speed; 255 if none does.
  [[nodiscard]] double drive(double speed) const;

 private:
  static constexpr double points_per_count = 0.5;  // the curve bends over tens of counts
  std::vector<double> speeds_;                     // running maximum: rising even where the fit is not
  Rounding rounding_;
};

struct CurvePair {
  RisingCurve forward;
  RisingCurve reverse;
  explicit CurvePair(const Response& response)
      : forward(response, Direction::forward), reverse(response, Direction::reverse) {}
  [[nodiscard]] const RisingCurve& of(Direction direction) const {
    return direction == Direction::forward ? forward : reverse;
  }
};

/// Larger error of the two directions as a share of the tolerance, for one table value.
[[nodiscard]] double error_share(const Traits& traits, const DriveSettings& settings, const CurvePair& curves,
                                 const EntryAim& aim, int value);

/// The table value with the smallest `error_share`.
[[nodiscard]] int best_value(const Traits& traits, const DriveSettings& settings, const CurvePair& curves,
                             const EntryAim& aim);

/// How many steps a set of trims (and CV5) can serve: one for each step well inside tolerance, half for doubtful ones,
/// a little less for every error.
[[nodiscard]] double settings_score(const Traits& traits, const DriveSettings& settings, const CurvePair& curves,
                                    const EntryAims& aims);

struct SettingsChoice {
  DriveSettings settings;  ///< trims, CV2 and CV5 chosen; table filled with the best values
  double score = 0;
};

/// What new trims have to gain, in steps served.
struct SettingsPrice {
  double of_change = 2.5;
  double of_proof = 0.06;  ///< for each proof that has to be made anew
};

/// Searches trims and CV5, as far as the decoder's traits let them act, with the top entry near 240 so that the drive
/// is as finely divided as the decoder can.
[[nodiscard]] SettingsChoice choose_settings(const Traits& traits, const CurvePair& curves, const EntryAims& aims);

/// Fills the table of given trims with the best values, never falling from entry to entry.
void fill_table(const Traits& traits, DriveSettings& settings, const CurvePair& curves, const EntryAims& aims);

}  // namespace lapwright
