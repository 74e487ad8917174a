#include "tests/faults/benches.h"

#include <boost/test/unit_test.hpp>
#include <chrono>
#include <fstream>
#include <sstream>
#include <thread>

namespace lapwright {
namespace {

constexpr double start_limit_s = 30;
const std::filesystem::path programs = LAPWRIGHT_PROGRAMS;

/// Asks again and again, for a while.
template <class Question>
bool becomes(Question question, double limit_s) {
  for (int tries = 0; tries < static_cast<int>(limit_s * 100); ++tries) {
    if (question()) return true;
    std::this_thread::sleep_for(std::chrono::milliseconds(10));
  }
  return question();
}

}  // namespace

void Benches::start_service(const std::string& name) {
  const std::vector<std::string> arguments = {"--config", wired(name).string(), "--socket",
                                              file(name + ".sock").string()};
  services_[name] = std::make_unique<Process>(programs / "lapwrightd", arguments, file(name + ".log"));
}

void Benches::start_again(const std::string& name) {
  services_.erase(name);
  start_service(name);
}

void Benches::serve_loops(const std::string& loop, const std::vector<std::string>& names) {
  nlohmann::json rigs = json("rig.json");
  const nlohmann::json pattern = rig_json(loop);
  rigs["rigs"].clear();
  for (const std::string& name : names) {
    rigs["rigs"].push_back(pattern);
    rigs["rigs"].back()["name"] = name;
    write(name + ".json", json(loop + ".json"));
  }
  write("rig.json", rigs);
  serve();
}

void Benches::start(const std::string& loop, const std::vector<std::string>& names) {
  serve_loops(loop, names);
  for (const std::string& name : names) start_service(name);
  for (const std::string& name : names) {
    BOOST_REQUIRE_MESSAGE(becomes([&] { return speed_mm_s(name) > 20; }, start_limit_s), service(name).output());
  }
}

std::string Benches::status(const std::string& name) {
  BOOST_REQUIRE(tell(name + " status") == 0);
  std::ifstream in(file("tell.log"));
  std::string last;
  for (std::string line; std::getline(in, line);) last = line;
  return last;
}

double Benches::speed_mm_s(const std::string& name) {
  const std::string text = status(name);
  const std::size_t at = text.find("mm, ");
  BOOST_REQUIRE_MESSAGE(at != std::string::npos, text);
  return std::abs(std::stod(text.substr(at + 4)));
}

bool Benches::comes_to_rest(const std::string& name) {
  return becomes([&] { return speed_mm_s(name) == 0; }, 2);
}

std::optional<double> Benches::last_told_s(const std::string& name, const std::string& words) const {
  const std::string log = rig_output();
  const std::size_t at = log.rfind(" " + name + ": told " + words + "\n");
  if (at == std::string::npos) return std::nullopt;
  const std::size_t line = log.rfind('\n', at);
  return std::stod(log.substr(line == std::string::npos ? 0 : line + 1));
}

double Benches::fault(const std::string& name, const std::string& words) {
  BOOST_REQUIRE(tell(name + " " + words) == 0);
  const std::optional<double> at_s = last_told_s(name, words);
  BOOST_REQUIRE_MESSAGE(at_s.has_value(), "the rig does not say that it was told \"" << words << "\"");
  return *at_s;
}

double Benches::mark(const std::string& name) { return fault(name, "status"); }

std::optional<double> Benches::dead_after_s(const std::string& name, double since_s, double limit_s) {
  std::optional<double> found;
  const auto look = [&] {
    std::istringstream lines(rig_output());
    for (std::string line; std::getline(lines, line);) {
      if (line.find(" " + name + ": track dead at ") == std::string::npos) continue;
      const double at_s = std::stod(line);
      if (at_s >= since_s && !found) found = at_s - since_s;
    }
    return found.has_value();
  };
  becomes(look, limit_s);
  return found;
}

}  // namespace lapwright
