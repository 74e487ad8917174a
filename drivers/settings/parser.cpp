#include "drivers/settings/parser.h"

#include <algorithm>
#include <cstddef>
#include <iterator>
#include <limits>
#include <nlohmann/json.hpp>
#include <set>

#include "drivers/settings/errors.h"
#include "drivers/settings/wording.h"

namespace lapwright::settings {
namespace {

/// Walks the text and tells how far the lexer has come: nlohmann's SAX events carry no position of their own.
class TrackedIterator {
 public:
  using iterator_category = std::input_iterator_tag;
  using value_type = char;
  using difference_type = std::ptrdiff_t;
  using pointer = const char*;
  using reference = const char&;

  TrackedIterator(const char* at, const char** reached) : at_(at), reached_(reached) {}
  reference operator*() const { return *at_; }
  TrackedIterator& operator++() {
    *reached_ = ++at_;
    return *this;
  }
  TrackedIterator operator++(int) {
    TrackedIterator before = *this;
    ++*this;
    return before;
  }
  bool operator==(const TrackedIterator& other) const { return at_ == other.at_; }
  bool operator!=(const TrackedIterator& other) const { return at_ != other.at_; }

 private:
  const char* at_;
  const char** reached_;
};

/// The library's reason without its prefix: "[json.exception…] parse error at line 3, column 7: reason". It quotes
/// what it read, which may be no text at all: Errors escapes that.
std::string reason_in(std::string what) {
  if (what.starts_with('[')) what.erase(0, what.find("] ") + 2);
  if (what.starts_with("parse error at")) what.erase(0, what.find(": ") + 2);
  return what;
}

/// Builds the nodes from nlohmann's SAX events (whose names and signatures are the library's).
class Builder : public nlohmann::json_sax<nlohmann::json> {
 public:
  Builder(std::string_view text, const std::string& name, std::vector<Complaint>& complaints)
      : text_(text), name_(name), complaints_(complaints), reached_(text.data()), counted_(text.data()) {}

  [[nodiscard]] TrackedIterator begin() { return {text_.data(), &reached_}; }
  [[nodiscard]] TrackedIterator end() { return {text_.data() + text_.size(), &reached_}; }
  [[nodiscard]] Node take() { return std::move(root_); }

  bool null() override { return add(Node::Kind::null), true; }
  bool boolean(bool value) override { return add(Node::Kind::boolean).flag = value, true; }
  bool number_integer(std::int64_t value) override {
    Node& node = add(Node::Kind::integer);
    node.whole = value;
    node.number = static_cast<double>(value);
    node.text = std::to_string(value);
    return true;
  }
  bool number_unsigned(std::uint64_t value) override {
    if (value <= static_cast<std::uint64_t>(std::numeric_limits<std::int64_t>::max())) {
      return number_integer(static_cast<std::int64_t>(value));
    }
    return number_float(static_cast<double>(value), std::to_string(value));
  }
  bool number_float(double value, const std::string& literal) override {
    Node& node = add(Node::Kind::number);
    node.number = value;
    node.text = literal;
    return true;
  }
  bool string(std::string& value) override { return add(Node::Kind::text).text = value, true; }
  bool binary(nlohmann::json::binary_t&) override { return false; }  // does not occur in JSON text
  bool key(std::string& value) override {
    key_ = value;
    key_line_ = line();
    return true;
  }
  bool start_object(std::size_t) override { return open(Node::Kind::object); }
  bool start_array(std::size_t) override { return open(Node::Kind::list); }
  bool end_object() override { return open_.pop_back(), true; }
  bool end_array() override { return open_.pop_back(), true; }
  bool parse_error(std::size_t position, const std::string&, const nlohmann::json::exception& error) override {
    const std::string_view before = text_.substr(0, std::min(position, text_.size()));
    const std::size_t newline = before.substr(0, before.empty() ? 0 : before.size() - 1).rfind('\n');
    const std::size_t column = newline == std::string_view::npos ? before.size() : before.size() - newline - 1;
    const auto lines = 1 + std::count(before.begin(), before.empty() ? before.end() : before.end() - 1, '\n');
    throw Errors({name_ + ":" + std::to_string(lines) + ":" + std::to_string(std::max<std::size_t>(column, 1)) +
                  ": this is not JSON: " + reason_in(error.what()) + "; correct the text there or just before"});
  }

 private:
  /// The line of the token just read. A number was read one character too far, which may be its newline.
  [[nodiscard]] int line(bool number = false) {
    const char* end = number && reached_ != counted_ ? reached_ - 1 : reached_;
    if (end > counted_) {
      line_ += static_cast<int>(std::count(counted_, end, '\n'));
      counted_ = end;
    }
    return line_;
  }

  Node& add(Node::Kind kind) {
    Node node;
    node.kind = kind;
    node.line = line(kind == Node::Kind::integer || kind == Node::Kind::number);
    if (open_.empty()) return root_ = std::move(node);
    Node& parent = *open_.back();
    if (parent.kind == Node::Kind::object) {
      node.key = key_;
      if (!parent.asked.insert(key_).second) refuse_duplicate(node);
    }
    parent.items.push_back(std::move(node));
    return parent.items.back();
  }

  bool open(Node::Kind kind) {
    if (open_.size() >= depth_limit) {
      throw Errors({name_ + ":" + std::to_string(line()) + ": lists and objects are nested deeper than " +
                    std::to_string(depth_limit) + " levels; no setting needs that, take the nesting out"});
    }
    open_.push_back(&add(kind));
    return true;
  }

  void refuse_duplicate(Node& node) {
    node.duplicate = true;
    const std::string place = name_ + ":" + std::to_string(key_line_) + ": " + pointer_here() + pointer_step(key_);
    complaints_.push_back({key_line_, place + ": this key stands twice in one object; keep one of them"});
  }

  /// The JSON pointer of the innermost open object.
  [[nodiscard]] std::string pointer_here() const {
    std::string pointer;
    for (std::size_t depth = 1; depth < open_.size(); ++depth) {
      const Node& parent = *open_[depth - 1];
      const bool list = parent.kind == Node::Kind::list;
      pointer += list ? "/" + std::to_string(parent.items.size() - 1) : pointer_step(open_[depth]->key);
    }
    return pointer;
  }

  std::string_view text_;
  const std::string& name_;
  std::vector<Complaint>& complaints_;
  const char* reached_;
  const char* counted_;  ///< newlines before here are in line_
  int line_ = 1;
  std::string key_;
  int key_line_ = 1;
  Node root_;
  std::vector<Node*> open_;  ///< ancestors; stable, since only the innermost grows
};

/// While parsing, `asked` serves as the set of keys seen; readers start with none, and without the duplicates.
void clean(Node& node) {
  node.asked.clear();
  std::erase_if(node.items, [](const Node& item) { return item.duplicate; });
  for (Node& item : node.items) clean(item);
}

}  // namespace

Node parse_nodes(std::string_view text, const std::string& name, std::vector<Complaint>& complaints) {
  Builder builder(text, name, complaints);
  nlohmann::json::sax_parse(builder.begin(), builder.end(), &builder);
  Node root = builder.take();
  clean(root);
  return root;
}

}  // namespace lapwright::settings
