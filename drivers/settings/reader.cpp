#include "drivers/settings/reader.h"

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <fstream>
#include <iterator>

#include "drivers/settings/parser.h"
#include "drivers/settings/state.h"
#include "drivers/settings/wording.h"

namespace lapwright::settings {
namespace {

constexpr std::size_t longest_file_bytes = 4'000'000;
constexpr std::size_t most_errors = 50;  ///< more only hide the first ones

std::string join(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) text += (text.empty() ? "" : "\n") + line;
  return text;
}

const std::vector<std::string>& one_line_each(std::vector<std::string>& lines) {
  for (std::string& line : lines) line = one_line(line);
  return lines;
}

/// Keys that nobody asked for, in this object and in those that were read.
void find_unread(State& state, const Node& node, const std::string& pointer) {
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& item = node.items[i];
    const bool member = node.kind == Node::Kind::object;
    const std::string place = pointer + (member ? pointer_step(item.key) : "/" + std::to_string(i));
    if (!member || item.read) {
      find_unread(state, item, place);
      continue;
    }
    const auto near = nearest(item.key, node.asked);
    std::string remedy = "take it out";
    if (near) {
      remedy = "did you mean " + in_quotes(*near) + "?";
    } else if (!node.asked.empty()) {
      remedy += " or use one of: ";
      for (const std::string& key : node.asked) remedy += (key == *node.asked.begin() ? "" : ", ") + key;
    }
    state.complain(item.line, place, "the key " + in_quotes(item.key) + " is not known here; " + remedy);
  }
}

}  // namespace

Errors::Errors(std::vector<std::string> lines)
    : std::runtime_error(join(one_line_each(lines))), lines_(std::move(lines)) {}

Document::Document(std::string_view text, std::string name) : state_(std::make_unique<State>()) {
  state_->name = std::move(name);
  state_->root = parse_nodes(text, state_->name, state_->complaints);
  if (state_->root.kind != Node::Kind::object) {
    throw Errors({state_->name + ":" + std::to_string(state_->root.line) + ": " + shown(state_->root) +
                  " is not an object; put the settings in { }"});
  }
}

Document::Document(Document&&) noexcept = default;
Document& Document::operator=(Document&&) noexcept = default;
Document::~Document() = default;

Section Document::root() { return {state_.get(), &state_->root, ""}; }

const std::string& Document::name() const { return state_->name; }

const std::vector<Setting>& Document::effective() const { return state_->effective; }

std::string Document::effective_text() const {
  std::string text;
  for (const Setting& setting : state_->effective) {
    text += setting.pointer + " = " + setting.value + (setting.was_default ? "  (default)\n" : "\n");
  }
  return text;
}

void Document::finish() {
  const std::size_t found_while_reading = state_->complaints.size();
  find_unread(*state_, state_->root, "");
  std::vector<Complaint> all = state_->complaints;
  state_->complaints.resize(found_while_reading);  // another call finds the unread ones anew
  if (all.empty()) return;
  std::stable_sort(all.begin(), all.end(), [](const Complaint& a, const Complaint& b) { return a.line < b.line; });
  std::vector<std::string> lines;
  for (const Complaint& complaint : all) {
    if (lines.size() == most_errors) {
      lines.push_back(state_->name + ": and " + std::to_string(all.size() - most_errors) +
                      " more mistakes; correct these first");
      break;
    }
    lines.push_back(complaint.text);
  }
  throw Errors(std::move(lines));
}

Document parse(std::string_view text, std::string name) { return {text, std::move(name)}; }

Document load_file(const std::filesystem::path& path) {
  const std::string name = path.string();
  std::error_code unknown;  // what can't be looked at can't be opened either: that is reported below
  if (std::filesystem::is_directory(path, unknown)) throw Errors({name + ": is a folder; give a settings file"});
  errno = 0;
  std::ifstream file(path, std::ios::binary);
  if (!file) throw Errors({name + ": can't be opened: " + std::strerror(errno) + "; check path and permissions"});
  std::string text;
  text.reserve(16384);
  for (std::istreambuf_iterator<char> at(file), end; at != end && text.size() <= longest_file_bytes; ++at) text += *at;
  if (file.bad()) throw Errors({name + ": can't be read: " + std::strerror(errno) + "; check the disk"});
  if (text.size() > longest_file_bytes) {
    throw Errors({name + ": is longer than " + std::to_string(longest_file_bytes) +
                  " bytes; no settings file is, check the path"});
  }
  return parse(text, name);
}

}  // namespace lapwright::settings
