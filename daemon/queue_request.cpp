#include "daemon/queue_request.h"

#include <filesystem>
#include <nlohmann/json.hpp>

namespace lapwright {
namespace {

using RequestJson = nlohmann::json;

/// Names may hold bytes that are no UTF-8.
std::string line_of(const RequestJson& request) {
  return request.dump(-1, ' ', false, RequestJson::error_handler_t::replace);
}

std::string found_from_anywhere(const std::string& name) {
  const bool file = name.ends_with(".json") || name.find('/') != std::string::npos;
  return file ? std::filesystem::absolute(name).lexically_normal().string() : name;
}

}  // namespace

std::string add_request(const std::vector<std::string>& engines, const std::string& sheet, Work work) {
  RequestJson names = RequestJson::array();
  for (const std::string& engine : engines) names.push_back(found_from_anywhere(engine));
  RequestJson request = {{"ask", "queue"}, {"do", "add"}, {"engines", names}, {"work", code(work)}};
  if (!sheet.empty()) request["sheet"] = found_from_anywhere(sheet);
  return line_of(request);
}

std::string list_request() { return R"({"ask":"queue"})"; }

std::string move_request(int entry, int place) {
  return line_of({{"ask", "queue"}, {"do", "move"}, {"entry", entry}, {"place", place}});
}

std::string cancel_request(int entry) { return line_of({{"ask", "queue"}, {"do", "cancel"}, {"entry", entry}}); }

std::string pause_request(bool now) { return line_of({{"ask", "queue"}, {"do", "pause"}, {"now", now}}); }

std::string resume_request() { return R"({"ask":"queue","do":"resume"})"; }

std::string ready_request(const std::string& engine) { return line_of({{"ask", "ready"}, {"engine", engine}}); }

}  // namespace lapwright
