#include "tests/whole_job/works.h"

#include <algorithm>
#include <boost/test/unit_test.hpp>
#include <cmath>
#include <fstream>

#include "drivers/settings/reader.h"
#include "drivers/simulated/engine_file.h"
#include "drivers/simulated/railway.h"
#include "drivers/simulated/railway_file.h"
#include "drivers/simulated/truth.h"
#include "tuning/cv.h"
#include "tuning/scale.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;
constexpr double start_limit_s = 20;

}  // namespace

Works::Works() { fs::copy(LAPWRIGHT_CONFIGS "/works", folder(), fs::copy_options::recursive); }

std::string Works::text(const std::string& name) const {
  std::ifstream in(file(name));
  return {std::istreambuf_iterator<char>(in), std::istreambuf_iterator<char>()};
}

nlohmann::json Works::json(const std::string& name) const {
  std::ifstream in(file(name));
  return nlohmann::json::parse(in);
}

void Works::write(const std::string& name, const nlohmann::json& json) const { std::ofstream(file(name)) << json; }

void Works::serve() {
  nlohmann::json rigs = json("rig.json");
  rigs["control_socket"] = "rig.sock";
  for (nlohmann::json& rig : rigs["rigs"]) {
    rig["station"]["link"]["port"] = 0;
    if (rig.contains("board")) rig["board"]["link"]["device"] = rig["name"].get<std::string>() + "-board";
  }
  write("served.json", rigs);
  rig_ = std::make_unique<Process>(LAPWRIGHT_PROGRAMS "/lapwright-rig",
                                   std::vector<std::string>{file("served.json").string()}, file("rig.log"));
  const std::string last = rigs["rigs"].back()["name"].get<std::string>() + ": station";
  BOOST_REQUIRE_MESSAGE(rig_->wrote(last, start_limit_s), rig_->output());
}

int Works::port(const std::string& rig_name) const {
  const std::string text = rig_->output();
  const std::string before = rig_name + ": station 127.0.0.1:";
  const std::size_t at = text.find(before);
  BOOST_REQUIRE_MESSAGE(at != std::string::npos, text);
  return std::stoi(text.substr(at + before.size()));
}

fs::path Works::wired(const std::string& name) {
  nlohmann::json configuration = json(name + ".json");
  configuration["rig"]["station"]["link"]["port"] = port(name);
  if (configuration["rig"].contains("board")) {
    configuration["rig"]["board"]["link"]["device"] = file(name + "-board").string();
  }
  configuration["reports"] = name;
  configuration["limits"]["late_s"] = 0.5;  // railways, services and tests share the cores of one machine here
  write(name + "_wired.json", configuration);
  return file(name + "_wired.json");
}

nlohmann::json Works::rig_json(const std::string& rig_name) const {
  const nlohmann::json rigs = json("rig.json");
  for (const nlohmann::json& rig : rigs["rigs"]) {
    if (rig["name"] == rig_name) return rig;
  }
  BOOST_FAIL("no rig " + rig_name);
  return {};
}

fs::path Works::direct(const std::string& name) {
  nlohmann::json configuration = json(name + ".json");
  nlohmann::json rig = rig_json(name);
  rig["railway"]["board"]["stamp_error_s"] = configuration["track"]["stamp_error_s"];
  configuration["rig"] = {{"kind", "simulated"},
                          {"seed", rig["seed"]},
                          {"railway", rig["railway"]},
                          {"engines", nlohmann::json::array({rig["engine"]})}};
  configuration["reports"] = name + "_direct";
  write(name + "_direct.json", configuration);
  return file(name + "_direct.json");
}

nlohmann::json Works::report(const std::string& configuration) const { return json(configuration + "/rowan_12.json"); }

int Works::tell(const std::string& words) {
  Process teller(LAPWRIGHT_PROGRAMS "/lapwright-rig", {file("served.json").string(), "--tell", words},
                 file("tell.log"));
  const auto status = teller.wait(start_limit_s);
  BOOST_REQUIRE_MESSAGE(status.has_value(), "lapwright-rig --tell does not end");
  return *status;
}

double worst_error(const nlohmann::json& report, const nlohmann::json& rig, const fs::path& engine_file) {
  settings::Document document = settings::parse(rig["railway"].dump(), "rig.json");
  const simulated::RailwayDescription description = simulated::read_railway(document.root());
  const simulated::EngineDescription engine = simulated::load_engine(engine_file);
  const simulated::Railway railway(description, engine, rig["seed"].get<std::uint64_t>());
  const auto& gates_mm = railway.track().gates_mm();
  simulated::Truth truth(engine, railway.track(), railway.track_volts(), {gates_mm[0], gates_mm[1]});
  simulated::Decoder decoder(engine.addressed_decoder());
  for (const auto& [name, value] : report["cvs"].items()) decoder.set_cv(std::stoi(name.substr(2)), value);
  decoder.set_cv(cv::configuration, static_cast<std::uint8_t>(decoder.cv(cv::configuration) | 1 << cv::table_bit));
  double worst = 0;
  for (const nlohmann::json& step : report["steps"]) {
    for (const Direction direction : {Direction::forward, Direction::reverse}) {
      const ThrottleCommand command{step["step"], direction, StepMode::steps28};
      const double target_mm_s = model_mm_s(step["target"], SpeedUnit::mph, engine.ratio);
      const double tolerance_mm_s = model_mm_s(step["tolerance"], SpeedUnit::mph, engine.ratio);
      worst = std::max(worst, std::abs(truth.speed_mm_s(decoder, command) - target_mm_s) / tolerance_mm_s);
    }
  }
  return worst;
}

}  // namespace lapwright
