#include "drivers/settings/section.h"

#include <algorithm>

#include "drivers/settings/state.h"
#include "drivers/settings/values.h"
#include "drivers/settings/wording.h"

namespace lapwright::settings {

Section::Section(State* state, Node* node, std::string pointer)
    : state_(state), node_(node), pointer_(std::move(pointer)) {}

std::string Section::below(std::string_view key) const { return pointer_ + pointer_step(key); }

bool Section::missing(std::string_view key) const { return node_ != nullptr && node_->find(key) == nullptr; }

Node* Section::take(std::string_view key, bool required, const std::string& wanted) {
  if (node_ == nullptr) return nullptr;
  node_->asked.emplace(key);
  Node* found = node_->find(key);
  if (found != nullptr) found->read = true;
  if (found == nullptr && required) {
    state_->complain(node_->line, pointer_, in_quotes(key) + " is missing; give " + wanted);
  }
  return found;
}

void Section::note_default(std::string_view key, std::string value) {
  if (node_ != nullptr) state_->effective.push_back({below(key), std::move(value), true});
}

double Section::number(std::string_view key, Range range, std::optional<double> otherwise) {
  const Place place{*state_, below(key), unit_of(key)};
  const double placeholder = otherwise.value_or(std::clamp(0.0, range.min, range.max));
  Node* found = take(key, !otherwise, wanted(range, place.unit));
  if (found != nullptr) return checked_number(place, *found, range).value_or(placeholder);
  if (otherwise) note_default(key, plain(*otherwise));
  return placeholder;
}

int Section::integer(std::string_view key, IntRange range, std::optional<int> otherwise) {
  const Place place{*state_, below(key), unit_of(key)};
  const int placeholder = otherwise.value_or(std::clamp(0, range.min, range.max));
  Node* found = take(key, !otherwise, wanted(range, place.unit));
  if (found != nullptr) return checked_integer(place, *found, range).value_or(placeholder);
  if (otherwise) note_default(key, std::to_string(*otherwise));
  return placeholder;
}

bool Section::flag(std::string_view key, std::optional<bool> otherwise) {
  const Place place{*state_, below(key), {}};
  Node* found = take(key, !otherwise, "true or false");
  if (found != nullptr) return checked_flag(place, *found).value_or(otherwise.value_or(false));
  if (otherwise) note_default(key, *otherwise ? "true" : "false");
  return otherwise.value_or(false);
}

std::string Section::text(std::string_view key, std::optional<std::string> otherwise, std::string_view help) {
  const Place place{*state_, below(key), {}};
  Node* found = take(key, !otherwise, std::string(help.empty() ? "a text in double quotes" : help));
  if (found != nullptr) return checked_text(place, *found, help).value_or(otherwise.value_or(""));
  if (otherwise) note_default(key, in_quotes(*otherwise));
  return otherwise.value_or("");
}

std::optional<double> Section::maybe_number(std::string_view key, Range range) {
  if (Node* found = take(key, false, {})) return checked_number({*state_, below(key), unit_of(key)}, *found, range);
  return std::nullopt;
}

std::optional<int> Section::maybe_integer(std::string_view key, IntRange range) {
  if (Node* found = take(key, false, {})) return checked_integer({*state_, below(key), unit_of(key)}, *found, range);
  return std::nullopt;
}

std::optional<bool> Section::maybe_flag(std::string_view key) {
  if (Node* found = take(key, false, {})) return checked_flag({*state_, below(key), {}}, *found);
  return std::nullopt;
}

std::optional<std::string> Section::maybe_text(std::string_view key, std::string_view help) {
  if (Node* found = take(key, false, {})) return checked_text({*state_, below(key), {}}, *found, help);
  return std::nullopt;
}

std::size_t Section::word_index(std::string_view key, const std::vector<std::string_view>& words,
                                std::optional<std::size_t> otherwise) {
  std::string choice;
  for (const std::string_view word : words) {
    if (!choice.empty()) choice += word == words.back() ? " or " : ", ";
    choice += in_quotes(word);
  }
  Node* found = take(key, !otherwise, choice);
  if (found == nullptr) {
    if (otherwise) note_default(key, in_quotes(words[*otherwise]));
    return otherwise.value_or(0);
  }
  if (found->kind == Node::Kind::text) {
    const auto at = std::find(words.begin(), words.end(), found->text);
    if (at != words.end()) {
      state_->effective.push_back({below(key), in_quotes(found->text), false});
      return static_cast<std::size_t>(at - words.begin());
    }
  }
  std::string hint;
  if (found->kind == Node::Kind::text) {
    const auto near = nearest(found->text, {words.begin(), words.end()});
    if (near) hint = " (did you mean " + in_quotes(*near) + "?)";
  }
  state_->complain(found->line, below(key), shown(*found) + " is not known here; give " + choice + hint);
  return otherwise.value_or(0);
}

bool Section::has(std::string_view key) const {
  if (node_ == nullptr) return false;
  node_->asked.emplace(key);
  return node_->find(key) != nullptr;
}

bool Section::is_text(std::string_view key) const { return has(key) && node_->find(key)->kind == Node::Kind::text; }

bool Section::is_object(std::string_view key) const { return has(key) && node_->find(key)->kind == Node::Kind::object; }

void Section::ignore(std::string_view key) {
  if (Node* found = take(key, false, {})) found->items.clear();
}

std::vector<std::string> Section::keys() const {
  std::vector<std::string> out;
  if (node_ == nullptr) return out;
  for (const Node& item : node_->items) out.push_back(item.key);
  return out;
}

std::size_t Section::mistakes() const { return state_->complaints.size(); }

void Section::complain(std::string_view key, std::string_view what_and_remedy) {
  if (node_ == nullptr) return;
  const Node* at = key.empty() ? nullptr : node_->find(key);
  state_->complain(at != nullptr ? at->line : node_->line, at != nullptr ? below(key) : pointer_,
                   std::string(what_and_remedy));
}

}  // namespace lapwright::settings
