// From the response back to a table: rising, as good as brute force, trims in range.
#include "tuning/inversion.h"

#include <boost/test/unit_test.hpp>
#include <cmath>
#include <random>

namespace lapwright {
namespace {

constexpr double top_units = 18;

/// A response that has seen noise-free passes of a random rising curve: dead drive, gain, bend, a slower reverse.
Response random_response(std::mt19937& luck) {
  const auto between = [&](double low, double high) { return std::uniform_real_distribution<>(low, high)(luck); };
  const double dead = between(2, 25);
  const double gain = between(0.08, 0.2);
  const double bend = between(-0.15, 0.5);
  const double reverse = between(0.92, 1.08);
  Response response;
  for (double drive = 240; drive > dead + 3; drive -= 20) {
    const double x = drive - dead;
    const double speed = gain * x * (1 + bend * x / 255);
    response.add(Observation{drive, Direction::forward, speed, 2000, 0.001});
    response.add(Observation{drive, Direction::reverse, reverse * speed, 2000, 0.001});
  }
  response.refit();
  return response;
}

EntryAims slow_freight_aims() {
  EntryAims aims;
  for (std::size_t i = 0; i < aims.size(); ++i) {
    aims[i].speed = 1 + (top_units - 1) * static_cast<double>(i) / 27;
    aims[i].tolerance = std::max(0.1, 0.02 * aims[i].speed);
  }
  return aims;
}

const Traits all_traits[] = {{false, false, true}, {true, false, true}, {false, true, true}, {true, true, true}};

/// Independent of error_share: straight from the curves and the drive law.
double worst_error(const Traits& traits, const DriveSettings& settings, const CurvePair& curves, const EntryAim& aim,
                   int value) {
  const double forward = curves.forward.speed(drive_of_value(traits, settings, value, Direction::forward));
  const double reverse = curves.reverse.speed(drive_of_value(traits, settings, value, Direction::reverse));
  return std::max(std::abs(forward - aim.speed), std::abs(reverse - aim.speed)) / aim.tolerance;
}

}  // namespace

BOOST_AUTO_TEST_SUITE(inversion)

BOOST_AUTO_TEST_CASE(curves_rise_and_invert) {
  for (unsigned seed = 1; seed <= 20; ++seed) {
    std::mt19937 luck(seed);
    const Response response = random_response(luck);
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      const RisingCurve curve(response, direction);
      double before = 0;
      for (double drive = 0; drive <= 255; drive += 0.5) {
        BOOST_TEST(curve.speed(drive) >= before);
        before = curve.speed(drive);
      }
      if (response.scales().rounding.noticeable()) continue;  // a staircase has no inverse
      for (double speed = 1.0; speed < curve.speed(250); speed += 0.7) {
        BOOST_TEST(std::abs(curve.speed(curve.drive(speed)) - speed) < 1e-6, "seed " << seed << " speed " << speed);
      }
      BOOST_TEST(curve.drive(1e6) == 255);
      BOOST_TEST(curve.drive(-1) == 0);
    }
  }
}

BOOST_AUTO_TEST_CASE(error_share_is_the_larger_of_both_directions) {
  std::mt19937 luck(31);
  const Response response = random_response(luck);
  const CurvePair curves(response);
  for (const Traits& traits : all_traits) {
    DriveSettings settings;
    settings.trim = {120, 135};
    settings.top_voltage = 230;
    for (int value = 20; value < 255; value += 15) {
      const EntryAim aim{7, 0.14};
      BOOST_TEST(error_share(traits, settings, curves, aim, value) == worst_error(traits, settings, curves, aim, value),
                 boost::test_tools::tolerance(1e-12));
    }
  }
}

BOOST_AUTO_TEST_CASE(best_value_is_the_best_of_all_256) {
  for (unsigned seed = 1; seed <= 25; ++seed) {
    std::mt19937 luck(seed);
    const Response response = random_response(luck);
    const CurvePair curves(response);
    for (const Traits& traits : all_traits) {
      DriveSettings settings;
      settings.trim = {std::uniform_int_distribution<>(90, 160)(luck), 0};
      settings.trim[1] = settings.trim[0] + std::uniform_int_distribution<>(-6, 6)(luck);
      settings.top_voltage = std::uniform_int_distribution<>(150, 255)(luck);
      for (const EntryAim& aim : slow_freight_aims()) {
        const double chosen = worst_error(traits, settings, curves, aim, best_value(traits, settings, curves, aim));
        double best = 1e9;
        for (int value = 0; value <= 255; ++value) {
          best = std::min(best, worst_error(traits, settings, curves, aim, value));
        }
        // The search may skip values where the directions are far apart, but then nothing is near tolerance.
        const double slack = best < 1.5 ? 1e-9 : 0.2 * best;
        BOOST_TEST(chosen <= best + slack, "seed " << seed << " speed " << aim.speed);
      }
    }
  }
}

BOOST_AUTO_TEST_CASE(tables_never_fall_and_trims_stay_in_range) {
  for (unsigned seed = 1; seed <= 12; ++seed) {
    std::mt19937 luck(seed);
    const Response response = random_response(luck);
    const CurvePair curves(response);
    const EntryAims aims = slow_freight_aims();
    for (const Traits& traits : all_traits) {
      const SettingsChoice choice = choose_settings(traits, curves, aims);
      int before = 0;
      for (const int value : choice.settings.table) {
        BOOST_TEST(value >= before);
        BOOST_TEST(value <= 255);
        before = value;
      }
      for (const int trim : choice.settings.trim) {
        BOOST_TEST(trim >= 1);  // 0 would mean "not used" (S-9.2.2 CV66)
        BOOST_TEST(trim <= 255);
        if (!*traits.trims_act) BOOST_TEST(trim == 128);
      }
      BOOST_TEST(choice.settings.start_voltage == 0);
      BOOST_TEST(choice.settings.top_voltage >= 1);
      BOOST_TEST(choice.settings.top_voltage <= 255);
      if (!*traits.table_scaled) BOOST_TEST(choice.settings.top_voltage == 255);
      BOOST_TEST(choice.score == settings_score(traits, choice.settings, curves, aims),
                 boost::test_tools::tolerance(1e-9));
    }
  }
}

// A top entry at 255 that turns out too slow has nowhere to go: what was found to leave step 28 of one night in ten
// short of a proof, where CV5 or the trims would have had it.
BOOST_AUTO_TEST_CASE(the_top_entry_keeps_room_above) {
  for (unsigned seed = 1; seed <= 40; ++seed) {
    std::mt19937 luck(seed);
    const Response response = random_response(luck);
    const CurvePair curves(response);
    const EntryAims aims = slow_freight_aims();
    for (const Traits& traits : {all_traits[1], all_traits[2], all_traits[3]}) {
      if (std::max(curves.forward.drive(top_units), curves.reverse.drive(top_units)) > 230) continue;  // a slow engine
      BOOST_TEST(choose_settings(traits, curves, aims).settings.table.back() <= 245, "seed " << seed);
    }
  }
}

BOOST_AUTO_TEST_CASE(trims_bring_the_directions_together) {
  for (unsigned seed = 1; seed <= 12; ++seed) {
    std::mt19937 luck(seed);
    const Response response = random_response(luck);
    const CurvePair curves(response);
    const EntryAims aims = slow_freight_aims();
    const double with = choose_settings(all_traits[1], curves, aims).score;
    const double without = choose_settings(all_traits[0], curves, aims).score;
    BOOST_TEST(with >= without - 0.3, "seed " << seed);  // trims are one more freedom
  }
}

BOOST_AUTO_TEST_CASE(falling_best_values_are_filled_level) {
  std::mt19937 luck(41);
  const Response response = random_response(luck);
  const CurvePair curves(response);
  EntryAims aims = slow_freight_aims();
  std::swap(aims[10], aims[14]);  // a sheet that would fall
  DriveSettings settings;
  fill_table(all_traits[0], settings, curves, aims);
  for (std::size_t i = 1; i < settings.table.size(); ++i) BOOST_TEST(settings.table[i] >= settings.table[i - 1]);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
