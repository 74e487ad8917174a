// Reads the keys of one JSON object into typed values: type, range and default of a setting stand in one line.
#pragma once

#include <initializer_list>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/settings/rules.h"

namespace lapwright::settings {

struct Node;
struct State;

/// One JSON object. A reading that fails notes its mistake and returns a placeholder within the range, so that all
/// mistakes are found; `Document::finish` throws before the placeholders can be used. `otherwise` is the default;
/// without one the key must be there. Valid as long as its Document.
class Section {
 public:
  double number(std::string_view key, Range range = {}, std::optional<double> otherwise = {});
  int integer(std::string_view key, IntRange range = {}, std::optional<int> otherwise = {});
  bool flag(std::string_view key, std::optional<bool> otherwise = {});
  std::string text(std::string_view key, std::optional<std::string> otherwise = {}, std::string_view help = {});
  template <class Enum>
  Enum word(std::string_view key, std::initializer_list<Word<Enum>> words, std::optional<Enum> otherwise = {});

  std::optional<double> maybe_number(std::string_view key, Range range = {});
  std::optional<int> maybe_integer(std::string_view key, IntRange range = {});
  std::optional<bool> maybe_flag(std::string_view key);
  std::optional<std::string> maybe_text(std::string_view key, std::string_view help = {});

  std::vector<double> numbers(std::string_view key, Count count = {}, Range range = {});
  std::vector<int> integers(std::string_view key, Count count = {}, IntRange range = {});
  std::vector<std::string> texts(std::string_view key, Count count = {});
  /// {"1": 2.5, …} or {"CV3": 28, …}; empty where the key is missing.
  std::map<int, double> number_map(std::string_view key, KeyRule keys, Range range = {});
  std::map<int, int> integer_map(std::string_view key, KeyRule keys, IntRange range = {});

  Section section(std::string_view key, std::string_view help = {});  ///< must be there
  Section section_or_defaults(std::string_view key);                  ///< missing: as if empty
  std::optional<Section> maybe_section(std::string_view key);
  std::vector<Section> sections(std::string_view key, Count count = {});  ///< a list of objects

  /// The keys that name a whole number, and that number; others are mistakes.
  std::map<int, std::string> numbered_keys(KeyRule keys);

  [[nodiscard]] bool has(std::string_view key) const;      ///< the key is known then, but not yet read
  [[nodiscard]] bool is_text(std::string_view key) const;  ///< for settings that may be a word or a number
  [[nodiscard]] bool is_object(std::string_view key) const;
  [[nodiscard]] std::vector<std::string> keys() const;  ///< for objects whose keys are free names
  void ignore(std::string_view key);                    ///< takes whatever stands there as read
  /// Mistakes noted so far in the whole document: checks across settings make sense only where there was none.
  [[nodiscard]] std::size_t mistakes() const;
  [[nodiscard]] const std::string& pointer() const { return pointer_; }
  /// Notes a mistake of the caller's own finding at `key` (or, if empty or missing, at this object): "what; remedy".
  void complain(std::string_view key, std::string_view what_and_remedy);

 private:
  friend class Document;
  Section(State* state, Node* node, std::string pointer);
  /// The value at `key`, marked as read; null, and a complaint if it had to be there, where it is missing.
  Node* take(std::string_view key, bool required, const std::string& wanted);
  [[nodiscard]] std::string below(std::string_view key) const;
  [[nodiscard]] bool missing(std::string_view key) const;
  void note_default(std::string_view key, std::string value);
  std::size_t word_index(std::string_view key, const std::vector<std::string_view>& words,
                         std::optional<std::size_t> otherwise);

  State* state_;
  Node* node_;  ///< null: its absence was reported, all readings are placeholders
  std::string pointer_;
};

template <class Enum>
Enum Section::word(std::string_view key, std::initializer_list<Word<Enum>> words, std::optional<Enum> otherwise) {
  std::vector<std::string_view> names;
  std::optional<std::size_t> preset;
  for (const Word<Enum>& entry : words) {
    if (otherwise && *otherwise == entry.value) preset = names.size();
    names.push_back(entry.word);
  }
  return (words.begin() + word_index(key, names, preset))->value;
}

}  // namespace lapwright::settings
