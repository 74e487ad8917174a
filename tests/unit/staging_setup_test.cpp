// Staging tracks in the configuration: what is read, and what is complained of. Railway and numbers are invented.
#include "daemon/staging_setup.h"

#include <boost/test/unit_test.hpp>

#include "drivers/settings/errors.h"
#include "drivers/settings/reader.h"

namespace lapwright {
namespace {

struct Yards {
  Yards() {
    track.length_mm = 6000;
    track.gates = {Gate{"throat", 500, 0.2}, Gate{"west", 1000, 0.2}, Gate{"east", 1150, 0.2}};
  }
  /// @returns all mistakes; empty: none
  std::string read(const std::string& text, bool wired) {
    setup = {};
    track.staging.reset();
    try {
      settings::Document document = settings::parse(text, "yard.json");
      read_staging(document.root(), "configs", wired, track, setup);
      document.finish();
      return {};
    } catch (const settings::Errors& errors) {
      return errors.what();
    }
  }
  [[nodiscard]] static bool says(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
  }
  TestTrack track;
  StagingSetup setup;
};

constexpr const char* two_tracks = R"({"clear_gate": "west", "turnout_s": 2,
  "main": [{"accessory": 12, "lie": "straight"}],
  "tracks": [{"record": "a.json", "to_buffer_mm": 1600, "turnouts": [{"accessory": 12, "lie": "diverging"}]},
             {"record": "b.json", "to_buffer_mm": 4000, "faces": "in", "stop_short_mm": 300,
              "turnouts": [{"event": "05.01.01.01.22.60.00.01"}, {"accessory": 13, "lie": "straight"}]}]})";

}  // namespace

BOOST_FIXTURE_TEST_SUITE(staging_setup, Yards)

BOOST_AUTO_TEST_CASE(what_is_read) {
  BOOST_TEST(read(two_tracks, true) == "");
  BOOST_REQUIRE(track.staging.has_value());
  BOOST_TEST(track.staging->clear_gate == 1);
  BOOST_TEST(track.staging->out_way == 1);
  BOOST_REQUIRE(track.staging->tracks.size() == 2U);
  BOOST_TEST((track.staging->tracks[0].out == Direction::forward));
  BOOST_TEST((track.staging->tracks[1].out == Direction::reverse));
  BOOST_TEST(setup.berths[0].record == "configs/a.json");
  BOOST_TEST(setup.berths[0].stop_short_mm == 150);
  BOOST_TEST(setup.berths[1].stop_short_mm == 300);
  BOOST_TEST(in_seconds(setup.routes.settling) == 2);
  BOOST_REQUIRE(setup.routes.orders.size() == 3U);
  BOOST_TEST((setup.routes.orders[0].front() == TurnoutOrder(dcc::BasicAccessory{15, true, true})));
  BOOST_TEST((setup.routes.orders[1].front() == TurnoutOrder(dcc::BasicAccessory{15, true, false})));
  BOOST_TEST((setup.routes.orders[2].front() == TurnoutOrder(std::uint64_t{0x0501010122600001})));
}

BOOST_AUTO_TEST_CASE(mistakes_are_told) {
  const auto with = [](const std::string& from, const std::string& to) {
    std::string text = two_tracks;
    text.replace(text.find(from), from.size(), to);
    return text;
  };
  BOOST_TEST(says(read(with("\"west\"", "\"north\""), true), "the track has no gate \"north\""));
  BOOST_TEST(says(read(with("b.json", "a.json"), true), "two tracks name it"));
  BOOST_TEST(says(read(with("05.01", "05,01"), true), "is no event ID"));
  BOOST_TEST(says(read(with("300", "249"), true), "stop_short_mm"));  // 50 mm and a twentieth of the way
  BOOST_TEST(says(read(with("\"main\"", "\"mean\""), true), "main"));
  // An engine runs 3700 mm to get home from gate east, and gate west lies 150 mm beyond the turnouts: where they fail
  // it is seen there. From gate throat the next gate beyond is 5350 mm away.
  BOOST_TEST(read(with("\"west\"", "\"east\""), true) == "");
  BOOST_TEST(says(read(with("\"west\"", "\"throat\""), true), "\"east\", is 5350 mm away"));
  track.shape = TrackShape::shuttle;
  BOOST_TEST(says(read(two_tracks, true), "beside a loop"));
}

BOOST_AUTO_TEST_CASE(the_simulated_railway_needs_no_orders) {
  const std::string text = R"({"clear_gate": "west", "out": "reverse",
    "tracks": [{"record": "a.json", "to_buffer_mm": 1600}]})";
  BOOST_TEST(read(text, false) == "");
  BOOST_TEST(track.staging->out_way == -1);
  BOOST_TEST(setup.routes.orders.size() == 2U);
  BOOST_TEST(says(read(text, true), "main"));
}

// Aims of 10 … 100 mm/s: a moderate step is the one nearest to 70.
BOOST_AUTO_TEST_CASE(where_an_engine_stands_and_how_it_goes_home) {
  BOOST_TEST(read(two_tracks, true) == "");
  TuneOrder order;
  order.mode = StepMode::steps126;
  order.track.length_mm = 6000;
  for (int k = 1; k <= 10; ++k) order.aims.push_back(StepAim{12 * k, 10.0 * k, 1, true});
  BOOST_TEST(!staging_place(setup, "configs/c.json", order).has_value());
  const auto place = staging_place(setup, "configs/b.json", order);
  BOOST_REQUIRE(place.has_value());
  BOOST_TEST(place->route == 2);
  BOOST_TEST(place->stop_short_mm == 300);
  BOOST_TEST(place->step == 84);
  BOOST_TEST(place->speed_mm_s == 70);
  BOOST_TEST((place->mode == StepMode::steps126));
  order.track.length_mm = 240;  // round in eight seconds at 30 mm/s
  BOOST_TEST(staging_place(setup, "configs/b.json", order)->speed_mm_s == 30);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace lapwright
