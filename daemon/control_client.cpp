#include "daemon/control_client.h"

#include <spdlog/fmt/fmt.h>

#include <cstdio>
#include <nlohmann/json.hpp>

#include "daemon/control_link.h"
#include "daemon/exit_codes.h"

namespace lapwright {
namespace {

using Answer = nlohmann::json;
constexpr int answer_limit_ms = 5000;
constexpr int halt_limit_ms = 20000;  // it is done at once; a station that is silent is waited for to see it

void print(const std::string& text) {
  std::fputs(text.c_str(), stdout);
  std::fflush(stdout);
}

template <class Work>
int reaching(Work work) {
  try {
    return work();
  } catch (const NotReachable& nobody) {
    std::fprintf(stderr, "%s\n", nobody.what());
    return exit_not_reachable;
  }
}

int not_understood(const std::string& line) {
  std::fprintf(stderr, "the service answered: %s\n", line.c_str());
  return exit_not_reachable;
}

std::string word(const Answer& object, const char* key) {
  return object.contains(key) && object[key].is_string() ? object[key].get<std::string>() : "";
}

int number(const Answer& object, const char* key) {
  return object.contains(key) && object[key].is_number_integer() ? object[key].get<int>() : 0;
}

std::string fact(std::string_view name, const std::string& text) { return fmt::format("  {:<10}{}\n", name, text); }

}  // namespace

std::string status_text(std::string_view line) {
  const Answer status = Answer::parse(line, nullptr, false);
  if (!status.is_object()) return "the service's answer was not understood\n";
  const std::string why = word(status, "why");
  std::string text =
      fmt::format("{}: {}{}\n", word(status, "railway"), word(status, "state"), why.empty() ? "" : ", " + why);
  if (status.contains("engine") && status["engine"].is_object()) {
    const Answer& engine = status["engine"];
    text += fact("engine", fmt::format("{} ({} of {}), sheet \"{}\"", word(engine, "title"), number(engine, "number"),
                                       number(engine, "of"), word(engine, "sheet")));
    text += fact("now", fmt::format("{}; {} of {} verdicts, {} passes", word(engine, "phase"),
                                    number(engine, "verdicts"), number(engine, "wanted"), number(engine, "passes")));
  }
  if (!status.contains("done")) return text;
  for (const Answer& done : status["done"]) {
    text += fact("done", fmt::format("{}: {}, {} of {} steps proved", word(done, "title"), word(done, "outcome"),
                                     number(done, "proved"), number(done, "steps")));
    if (!done.contains("owed") || !done["owed"].is_object()) continue;
    for (const auto& [name, value] : done["owed"].items()) text += fact("owed", name + " = " + value.dump());
  }
  return text;
}

std::string event_text(std::string_view line) {
  const Answer event = Answer::parse(line, nullptr, false);
  if (!event.is_object()) return "";
  const std::string kind = word(event, "event");
  if (kind.empty()) return status_text(line);  // the first line of a watch
  if (kind == "engine_begins") {
    return fmt::format("engine {} of {}: {}, sheet \"{}\"\n", number(event, "number"), number(event, "of"),
                       word(event, "title"), word(event, "sheet"));
  }
  if (kind == "engine_ends") return word(event, "title") + ": " + word(event, "sentence") + "\n";
  if (kind == "phase") return word(event, "phase") + "\n";
  if (kind == "step") return word(event, "line") + "\n";
  if (kind == "state") {
    const std::string why = word(event, "why");
    return word(event, "state") + (why.empty() ? "" : ": " + why) + "\n";
  }
  return "";
}

int ask_status(const std::filesystem::path& socket, bool as_json) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(R"({"ask":"status"})");
    const auto line = link.receive(answer_limit_ms);
    if (!line || !Answer::parse(*line, nullptr, false).contains("state"))
      return not_understood(line.value_or("nothing"));
    print(as_json ? *line + "\n" : status_text(*line));
    return static_cast<int>(exit_ok);
  });
}

int ask_watch(const std::filesystem::path& socket) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(R"({"ask":"watch"})");
    while (const auto line = link.receive(-1)) print(event_text(*line));
    print("the service has ended\n");
    return static_cast<int>(exit_ok);
  });
}

std::string check_text(std::string_view line) {
  const Answer answer = Answer::parse(line, nullptr, false);
  if (!answer.is_object() || !answer.contains("checks")) return "the service's answer was not understood\n";
  std::string text;
  for (const Answer& check : answer["checks"]) {
    const bool told = check.contains("good") && check["good"].is_boolean();
    const char* verdict = !told ? "-" : check["good"].get<bool>() ? "ok" : "failed";
    text += fmt::format("{:<8}{:<24}{}\n", verdict, word(check, "what"), word(check, "text"));
  }
  return text;
}

int ask_check(const std::filesystem::path& socket, bool json) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(R"({"ask":"check"})");
    const std::string line = link.receive(answer_limit_ms).value_or("nothing");
    const Answer answer = Answer::parse(line, nullptr, false);
    if (!answer.is_object() || !answer.contains("checks")) return not_understood(line);
    print(json ? line + "\n" : check_text(line));
    return static_cast<int>(answer.value("good", false) ? exit_ok : exit_needs_person);
  });
}

int ask_halt(const std::filesystem::path& socket) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(R"({"ask":"halt"})");
    const auto line = link.receive(halt_limit_ms);
    const Answer answer = Answer::parse(line.value_or(""), nullptr, false);
    if (!answer.is_object() || !answer.contains("halted")) return not_understood(line.value_or("nothing"));
    print(word(answer, "text") + "\n");
    return static_cast<int>(answer["halted"] == true ? exit_ok : exit_needs_person);
  });
}

int ask_clear(const std::filesystem::path& socket) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(R"({"ask":"clear"})");
    const auto line = link.receive(answer_limit_ms);
    const Answer answer = Answer::parse(line.value_or(""), nullptr, false);
    if (!answer.is_object() || !answer.contains("cleared")) return not_understood(line.value_or("nothing"));
    print(word(answer, "text") + "\n");
    return static_cast<int>(answer["cleared"] == true ? exit_ok : exit_needs_person);
  });
}

std::string queue_text(std::string_view line) {
  const Answer answer = Answer::parse(line, nullptr, false);
  if (!answer.is_object() || !answer.contains("queue")) return "the service's answer was not understood\n";
  const Answer& queue = answer["queue"];
  std::string text;
  for (const Answer& each : queue.value("ended", Answer::array())) {
    text += fmt::format("{:>4}  {:<24}{:<9}{}{}\n", number(each, "entry"), word(each, "engine"), word(each, "work"),
                        word(each, "outcome"), each.value("needs_person", false) ? " - needs a person" : "");
  }
  for (const Answer& each : queue.value("waiting", Answer::array())) {
    text += fmt::format("{:>4}  {:<24}{:<9}sheet \"{}\"\n", number(each, "entry"), word(each, "engine"),
                        word(each, "work"), word(each, "sheet"));
  }
  if (text.empty()) text = "nobody waits\n";
  const std::string awaited = word(queue, "awaited");
  if (!awaited.empty()) text += fmt::format("waiting for {} on the loop; then tell: lapwright ready\n", awaited);
  if (queue.value("paused", false)) text += "paused; go on with: lapwright queue resume\n";
  return text;
}

int ask_queue(const std::filesystem::path& socket, const std::string& request, bool json) {
  return reaching([&] {
    ControlLink link(socket);
    link.send(request);
    const std::string line = link.receive(answer_limit_ms).value_or("nothing");
    const Answer answer = Answer::parse(line, nullptr, false);
    if (!answer.is_object() || !answer.contains("queue")) return not_understood(line);
    const std::string said = word(answer, "text");
    print(json ? line + "\n" : said.empty() ? queue_text(line) : said + "\n");
    return static_cast<int>(answer.value("done", false) ? exit_ok : exit_needs_person);
  });
}

}  // namespace lapwright
