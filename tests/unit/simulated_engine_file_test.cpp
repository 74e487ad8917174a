// Engine and railway descriptions in JSON: short files work, shipped ones load, mistakes are named with their place.
#include <boost/test/unit_test.hpp>
#include <filesystem>
#include <set>

#include "drivers/settings/reader.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway_file.h"

namespace lapwright {
namespace {

using simulated::EngineDescription;
using simulated::EngineGroup;

EngineDescription engine_of(std::string_view text) {
  settings::Document document = settings::parse(text, "engine.json");
  const EngineDescription engine = simulated::read_engine(document.root());
  document.finish();
  return engine;
}

std::string mistakes_of(std::string_view text) {
  try {
    engine_of(text);
  } catch (const settings::Errors& errors) {
    return errors.what();
  }
  return "";
}

BOOST_AUTO_TEST_SUITE(simulated_engine_file)

BOOST_AUTO_TEST_CASE(a_name_is_enough) {
  const EngineDescription engine = engine_of(R"({"name": "Wren"})");
  BOOST_TEST(engine.ratio == 87.1);
  BOOST_TEST((engine.group == EngineGroup::regulated));
  BOOST_TEST(engine.decoder.drive_bits == 10);
  BOOST_TEST(engine.opaque_parts().size() == 1U);
}

BOOST_AUTO_TEST_CASE(defaults_follow_scale_and_group) {
  const EngineDescription engine = engine_of(R"({"name": "Wren", "scale": "N", "group": "coarse", "address": 1234})");
  BOOST_TEST(engine.ratio == 160.0);  // NEM 010
  BOOST_TEST(engine.decoder.drive_bits == 8);
  BOOST_TEST(!engine.decoder.trims_act);
  const auto decoder = engine.addressed_decoder();
  BOOST_TEST(int{decoder.cvs.at(17)} == 196);  // S-9.2.1 l. 103-110: 1234 is C4 D2
  BOOST_TEST(int{decoder.cvs.at(18)} == 210);
  BOOST_TEST(int{decoder.cvs.at(29)} == 34);  // S-9.2.2: long address, 28 steps
}

BOOST_AUTO_TEST_CASE(a_decoder_may_lack_what_others_do) {
  const EngineDescription engine = engine_of(
      R"({"name": "Wren", "decoder": {"address_writes": false, "bit_writes": false, "answers_reads": true}})");
  BOOST_TEST(!engine.decoder.address_writes);
  BOOST_TEST(!engine.decoder.bit_writes);
  BOOST_TEST(engine.decoder.answers_reads);
  const EngineDescription usual = engine_of(R"({"name": "Wren"})");
  BOOST_TEST(usual.decoder.address_writes);
  BOOST_TEST(usual.decoder.bit_writes);
  BOOST_TEST(!usual.decoder.answers_reads);
}

BOOST_AUTO_TEST_CASE(mistakes_name_line_place_and_remedy) {
  const std::string all = mistakes_of(R"({
  "name": "Wren",
  "group": "fast",
  "motor": { "top_sped_mm_s": 300 },
  "silhouette": [{ "from_mm": 50, "to_mm": 20 }],
  "cvs": { "CV1": 3 }
})");
  for (const char* part : {"engine.json:3", "/group", "engine.json:4", "top_sped_mm_s", "top_speed_mm_s",
                           "/silhouette/0/to_mm", "give it as \"address\""}) {
    BOOST_TEST(all.find(part) != std::string::npos, part << " is missing in:\n" << all);
  }
}

BOOST_AUTO_TEST_CASE(shipped_engines_load_and_differ) {
  std::set<std::string> names;
  std::set<std::string> scales;
  std::set<EngineGroup> groups;
  for (const auto& entry : std::filesystem::directory_iterator(std::string(LAPWRIGHT_CONFIGS) + "/engines")) {
    if (entry.path().extension() != ".json") continue;
    const EngineDescription engine = simulated::load_engine(entry.path());
    BOOST_TEST(names.insert(engine.name).second, engine.name << " stands in two files");
    scales.insert(engine.scale);
    groups.insert(engine.group);
    BOOST_CHECK_NO_THROW(simulated::Decoder{engine.addressed_decoder()});
  }
  BOOST_TEST(names.size() >= 10U);
  BOOST_TEST(scales.size() >= 6U);
  BOOST_TEST(groups.size() == 3U);
}

BOOST_AUTO_TEST_CASE(railways_are_read_too) {
  settings::Document document = settings::parse(R"({"shape": "shuttle", "length_mm": 1800, "set_down_mm": 450,
    "gates": [{"name": "a", "position_mm": 600}, {"position_mm": 750}],
    "board": {"miss": 0.03, "double": 0.05}, "curves": [{"from_mm": 0, "to_mm": 300, "drag": 0.4}]})",
                                                "railway.json");
  const auto railway = simulated::read_railway(document.root());
  document.finish();
  BOOST_TEST((railway.shape == TrackShape::shuttle));
  BOOST_TEST(railway.gates.size() == 2U);
  BOOST_TEST(railway.start_mm.value() == 450.0);
  BOOST_TEST(railway.board.twin == 0.05);
  BOOST_TEST(railway.curves.at(0).drag == 0.4);
  BOOST_TEST(simulated::as_told(railway).gates.at(1).position_mm == 750.0);
}

BOOST_AUTO_TEST_SUITE_END()

}  // namespace
}  // namespace lapwright
