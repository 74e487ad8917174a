// Lists, maps and nested objects of a section.
#include <string>

#include "drivers/settings/section.h"
#include "drivers/settings/state.h"
#include "drivers/settings/values.h"
#include "drivers/settings/wording.h"

namespace lapwright::settings {
namespace {

std::string count_text(const Count& count) {
  const bool open = count.max == Count{}.max;
  if (count.min == count.max) return std::to_string(count.min);
  if (open) return "at least " + std::to_string(count.min);
  return std::to_string(count.min) + " … " + std::to_string(count.max);
}

std::string wanted_list(const Count& count) {
  std::string text(count.help.empty() ? "a list" : count.help);
  return text + " in [ ], " + count_text(count) + (count.min == 1 && count.max == 1 ? " item" : " items");
}

/// The items of a list, or of nothing where it is no list or has too few or too many.
std::vector<Node>* checked_list(State& state, const std::string& pointer, Node* found, const Count& count) {
  if (found == nullptr) return nullptr;
  if (!checked_kind({state, pointer, {}}, *found, Node::Kind::list, count.help)) return nullptr;
  const int size = static_cast<int>(found->items.size());
  if (size >= count.min && size <= count.max) return &found->items;
  state.complain(
      found->line, pointer,
      "the list has " + std::to_string(size) + (size == 1 ? " item" : " items") + "; give " + wanted_list(count));
  found->items.clear();  // nobody reads them now, and that is not another mistake
  return nullptr;
}

std::string item_pointer(const std::string& list, std::size_t index) { return list + "/" + std::to_string(index); }

}  // namespace

std::vector<double> Section::numbers(std::string_view key, Count count, Range range) {
  std::vector<double> out;
  auto* items = checked_list(*state_, below(key), take(key, count.min > 0, wanted_list(count)), count);
  for (std::size_t i = 0; items != nullptr && i < items->size(); ++i) {
    const auto value = checked_number({*state_, item_pointer(below(key), i), unit_of(key)}, (*items)[i], range);
    if (value) out.push_back(*value);
  }
  return out;
}

std::vector<int> Section::integers(std::string_view key, Count count, IntRange range) {
  std::vector<int> out;
  auto* items = checked_list(*state_, below(key), take(key, count.min > 0, wanted_list(count)), count);
  for (std::size_t i = 0; items != nullptr && i < items->size(); ++i) {
    const auto value = checked_integer({*state_, item_pointer(below(key), i), unit_of(key)}, (*items)[i], range);
    if (value) out.push_back(*value);
  }
  return out;
}

std::vector<std::string> Section::texts(std::string_view key, Count count) {
  std::vector<std::string> out;
  auto* items = checked_list(*state_, below(key), take(key, count.min > 0, wanted_list(count)), count);
  for (std::size_t i = 0; items != nullptr && i < items->size(); ++i) {
    const auto value = checked_text({*state_, item_pointer(below(key), i), {}}, (*items)[i], {});
    if (value) out.push_back(*value);
  }
  return out;
}

std::map<int, double> Section::number_map(std::string_view key, KeyRule keys, Range range) {
  std::map<int, double> out;
  Node* found = take(key, false, {});
  if (found == nullptr || !checked_kind({*state_, below(key), {}}, *found, Node::Kind::object, {})) return out;
  for (Node& item : found->items) {
    item.read = true;
    const Place place{*state_, below(key) + pointer_step(item.key), unit_of(key)};
    const auto number = checked_key(place, item, keys);
    const auto value = checked_number(place, item, range);
    if (number && value) out.emplace(*number, *value);
  }
  return out;
}

std::map<int, int> Section::integer_map(std::string_view key, KeyRule keys, IntRange range) {
  std::map<int, int> out;
  Node* found = take(key, false, {});
  if (found == nullptr || !checked_kind({*state_, below(key), {}}, *found, Node::Kind::object, {})) return out;
  for (Node& item : found->items) {
    item.read = true;
    const Place place{*state_, below(key) + pointer_step(item.key), unit_of(key)};
    const auto number = checked_key(place, item, keys);
    const auto value = checked_integer(place, item, range);
    if (number && value) out.emplace(*number, *value);
  }
  return out;
}

std::map<int, std::string> Section::numbered_keys(KeyRule keys) {
  std::map<int, std::string> out;
  if (node_ == nullptr) return out;
  for (Node& item : node_->items) {
    const auto number = checked_key({*state_, below(item.key), {}}, item, keys);
    if (number) out.emplace(*number, item.key);
    if (!number) ignore(item.key);
  }
  return out;
}

Section Section::section(std::string_view key, std::string_view help) {
  const std::string wanted(help.empty() ? "an object in { }" : help);
  Node* found = take(key, true, wanted);
  if (found != nullptr && !checked_kind({*state_, below(key), {}}, *found, Node::Kind::object, help)) found = nullptr;
  return {state_, found, below(key)};
}

std::optional<Section> Section::maybe_section(std::string_view key) {
  Node* found = take(key, false, {});
  if (found == nullptr) return std::nullopt;
  if (!checked_kind({*state_, below(key), {}}, *found, Node::Kind::object, {})) found = nullptr;
  return Section(state_, found, below(key));
}

Section Section::section_or_defaults(std::string_view key) {
  if (!missing(key)) return section(key);
  node_->asked.emplace(key);
  Node& empty = state_->assumed.emplace_back();
  empty.kind = Node::Kind::object;
  empty.line = node_->line;
  return {state_, &empty, below(key)};
}

std::vector<Section> Section::sections(std::string_view key, Count count) {
  std::vector<Section> out;
  auto* items = checked_list(*state_, below(key), take(key, count.min > 0, wanted_list(count)), count);
  for (std::size_t i = 0; items != nullptr && i < items->size(); ++i) {
    const std::string pointer = item_pointer(below(key), i);
    const bool object = checked_kind({*state_, pointer, {}}, (*items)[i], Node::Kind::object, {});
    out.push_back({state_, object ? &(*items)[i] : nullptr, pointer});
  }
  return out;
}

}  // namespace lapwright::settings
