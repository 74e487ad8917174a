#include "daemon/stored_response.h"

#include <spdlog/fmt/fmt.h>

#include <cmath>
#include <sstream>
#include <stdexcept>

#include "daemon/store/heard_record.h"
#include "tuning/cv.h"

namespace lapwright {
namespace {

constexpr std::size_t passes_at_most = 400;
constexpr double model_units = 18;
constexpr double same_unit = 1e-3;

std::string line_of(const Observation& pass) {
  return fmt::format("{:.7g} {} {:.7g} {:.6g} {:.4g} {}", pass.drive, code(pass.direction), pass.speed, pass.running_s,
                     pass.timing_sd, pass.sessions_ago);
}

Observation read_line(const std::string& line) {
  std::istringstream words(line);
  Observation pass;
  std::string direction;
  words >> pass.drive >> direction >> pass.speed >> pass.running_s >> pass.timing_sd >> pass.sessions_ago;
  const bool sound = !words.fail() && pass.drive >= 0 && pass.drive <= 255 && pass.speed > 0 && pass.running_s >= 0 &&
                     pass.timing_sd >= 0 && pass.sessions_ago >= 0;
  if (!sound) throw std::invalid_argument("\"" + line + "\" is no pass");
  pass.direction = read_direction(direction);
  return pass;
}

std::optional<DriveSettings> settings_of(const CvValues& cvs) {
  DriveSettings result;
  const auto read = [&](int number, int& value) {
    const auto found = cvs.find(number);
    if (found != cvs.end()) value = found->second;
    return found != cvs.end();
  };
  bool whole = read(cv::start_voltage, result.start_voltage) && read(cv::top_voltage, result.top_voltage) &&
               read(cv::forward_trim, result.trim[0]) && read(cv::reverse_trim, result.trim[1]);
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    whole = read(cv::table_entry(entry), result.table[static_cast<std::size_t>(entry - 1)]) && whole;
  }
  return whole ? std::optional(result) : std::nullopt;
}

}  // namespace

Record response_json(const StoredResponse& response) {
  Record json = {{"unit_mm_s", response.unit_mm_s},
                 {"run_up_s", response.run_up_s},
                 {"rounding", {{"counts", response.rounding.step}, {"down", response.rounding.down}}},
                 {"passes", Record::array()}};
  // The latest come last; what is older than they may go.
  const std::size_t all = response.passes.size();
  const std::size_t first = all > passes_at_most ? all - passes_at_most : 0;
  for (std::size_t i = first; i < all; ++i) json["passes"].push_back(line_of(response.passes[i]));
  return json;
}

StoredResponse read_response(const Record& json) {
  StoredResponse response;
  response.unit_mm_s = json.at("unit_mm_s").get<double>();
  response.run_up_s = json.at("run_up_s").get<double>();
  response.rounding.step = json.at("rounding").at("counts").get<double>();
  response.rounding.down = json.at("rounding").at("down").get<bool>();
  for (const Record& line : json.at("passes")) response.passes.push_back(read_line(line.get<std::string>()));
  return response;
}

std::optional<EarlierSession> earlier_session(const Job& job, const KnownEngine& known) {
  const double unit_mm_s = job.order.aims.back().speed_mm_s / model_units;
  const std::optional<DriveSettings> settings = settings_of(known.cvs);
  const bool comparable = known.response_over == job.speed_defined &&
                          std::abs(known.response.unit_mm_s - unit_mm_s) <= same_unit * unit_mm_s;
  if (known.response.passes.empty() || !comparable || !settings || !known.tuned || !known.tuned->scales) {
    return std::nullopt;
  }
  EarlierSession earlier;
  earlier.settings = *settings;
  earlier.traits = known.traits;
  earlier.scales = *known.tuned->scales;
  earlier.scales.rounding = known.response.rounding;
  earlier.response = known.response;
  for (Observation& pass : earlier.response.passes) ++pass.sessions_ago;
  return earlier;
}

}  // namespace lapwright
