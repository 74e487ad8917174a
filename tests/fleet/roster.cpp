#include "tests/fleet/roster.h"

#include <array>
#include <fstream>
#include <nlohmann/json.hpp>

#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/random.h"

namespace lapwright::fleet {
namespace {

struct Line {
  const char* name;
  const char* like;  ///< engine file that it is built like
  Trouble trouble;
};

constexpr std::array<Line, 24> lines = {{{"Aldry", "fellbeck", Trouble::none},
                                         {"Brockhole", "tarn_lady", Trouble::none},
                                         {"Curlew", "carrow_moss", Trouble::none},
                                         {"Dunnock", "ganger", Trouble::stalls},
                                         {"Eller Beck", "heather_bell", Trouble::none},
                                         {"Fieldfare", "moor_hen", Trouble::none},
                                         {"Grayling", "tarnside_flyer", Trouble::wrong_engine},
                                         {"Harrier", "fellbeck", Trouble::none},
                                         {"Ings", "tarn_lady", Trouble::none},
                                         {"Jackdaw", "ganger", Trouble::none},
                                         {"Kestrel", "moor_hen", Trouble::shorts},
                                         {"Lambrigg", "carrow_moss", Trouble::none},
                                         {"Merlin", "tarn_lady", Trouble::reset},
                                         {"Natterjack", "heather_bell", Trouble::none},
                                         {"Otter", "fellbeck", Trouble::none},
                                         {"Pipit", "moor_hen", Trouble::none},
                                         {"Quern", "tarn_lady", Trouble::dirty_gate},
                                         {"Ruddle", "ganger", Trouble::none},
                                         {"Siskin", "fellbeck", Trouble::none},
                                         {"Tarn Tern", "tarnside_flyer", Trouble::none},
                                         {"Ure", "thunder_gill", Trouble::coarse},
                                         {"Vole", "heather_bell", Trouble::none},
                                         {"Wagtail", "tarn_lady", Trouble::none},
                                         {"Yarrow", "moor_hen", Trouble::none}}};

/// Of one make, and yet each a little different.
void make_its_own(simulated::EngineDescription& engine, simulated::Random& luck) {
  engine.motor.top_speed_mm_s *= luck.uniform(0.95, 1.08);
  engine.motor.reverse_emf += luck.uniform(-0.005, 0.005);
  engine.friction.running *= luck.uniform(0.9, 1.15);
  engine.thermal.warm_up_s *= luck.uniform(0.8, 1.1);
  engine.thermal.cold_friction *= luck.uniform(0.8, 1.2);
}

}  // namespace

std::vector<Member> roster() {
  std::vector<Member> members;
  simulated::Random luck(2411);
  int number = 41;
  for (const Line& line : lines) {
    Member member;
    member.engine = simulated::load_engine(std::string(LAPWRIGHT_CONFIGS "/engines/") + line.like + ".json");
    member.engine.name = line.name;
    member.engine.road_number = std::to_string(number);
    member.engine.address = number++;
    make_its_own(member.engine, luck);
    member.trouble = line.trouble;
    if (line.trouble == Trouble::wrong_engine) member.engine.decoder.answers_reads = true;
    members.push_back(std::move(member));
  }
  return members;
}

std::filesystem::path write_record(const std::filesystem::path& folder, const simulated::EngineDescription& engine) {
  const std::map<int, std::uint8_t> held = engine.addressed_decoder().cvs;
  nlohmann::json record = {{"name", engine.name},
                           {"road_number", engine.road_number},
                           {"scale", engine.scale},
                           {"address", {{"short", engine.address}}},
                           {"length_mm", engine.length_mm}};
  for (const int number : {3, 4, 19, 23, 24, 29, 65}) {
    const auto found = held.find(number);
    record["cvs"]["CV" + std::to_string(number)] = found == held.end() ? 0 : found->second;
  }
  const std::filesystem::path file = folder / ("engine_" + engine.road_number + ".json");
  std::ofstream(file) << record;
  return file;
}

}  // namespace lapwright::fleet
