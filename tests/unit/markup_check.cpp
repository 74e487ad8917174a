#include "tests/unit/markup_check.h"

#include <boost/property_tree/xml_parser.hpp>
#include <cmath>
#include <cstdlib>
#include <regex>
#include <set>
#include <sstream>

#include "drivers/settings/wording.h"

namespace lapwright::markup {
namespace {

using Tree = boost::property_tree::ptree;

std::string all_text(const Tree& tree) {
  std::string text = tree.data();
  for (const auto& [name, child] : tree) {
    if (name != "<xmlattr>" && name != "<xmlcomment>") text += all_text(child);
  }
  return text;
}

void gather(const Tree& tree, std::vector<Element>& found) {
  for (const auto& [name, child] : tree) {
    if (name.starts_with('<')) continue;
    Element element{name, {}, child.data(), all_text(child)};
    if (const auto attributes = child.get_child_optional("<xmlattr>")) {
      for (const auto& [key, value] : *attributes) element.attributes[key] = value.data();
    }
    found.push_back(std::move(element));
    gather(child, found);
  }
}

std::string flaw_of_attributes(const std::string& inside) {
  static const std::regex one(R"(^\s+([A-Za-z][\w:-]*)="([^"<]*)\")");
  std::set<std::string> seen;
  std::string rest = inside;
  std::smatch match;
  while (std::regex_search(rest, match, one)) {
    if (!seen.insert(match[1]).second) return "twice the attribute " + match[1].str();
    rest = match.suffix();
  }
  return rest.find_first_not_of(" \n/") == std::string::npos ? "" : "no attribute: " + rest;
}

std::string flaw_of_text(const std::string& text) {
  static const std::regex reference("&(?!(lt|gt|amp|quot|#39);)");
  if (std::regex_search(text, reference)) return "a bare ampersand in " + text;
  return text.find('>') == std::string::npos ? "" : "a bare > in " + text;
}

std::string flaw_of_bytes(std::string_view text) {
  while (!text.empty()) {
    const std::size_t size = settings::character_size(text);
    if (size == 0) return "bytes that are no UTF-8";
    const auto first = static_cast<unsigned char>(text.front());
    if (first < 0x20 && first != '\n' && first != '\t' && first != '\r') return "a control character";
    text.remove_prefix(size);
  }
  return "";
}

}  // namespace

std::string Element::attribute(const std::string& key) const {
  const auto found = attributes.find(key);
  return found == attributes.end() ? "" : found->second;
}

double Element::number(const std::string& key) const {
  const std::string value = attribute(key);
  return value.empty() ? std::nan("") : std::strtod(value.c_str(), nullptr);
}

bool Element::has_class(const std::string& word) const {
  return (" " + attribute("class") + " ").find(" " + word + " ") != std::string::npos;
}

std::vector<Element> elements(const std::string& markup) {
  std::istringstream in(markup);
  Tree tree;
  boost::property_tree::read_xml(in, tree);
  std::vector<Element> found;
  gather(tree, found);
  return found;
}

std::vector<Element> named(const std::vector<Element>& all, const std::string& name, const std::string& word) {
  std::vector<Element> found;
  for (const Element& each : all) {
    if (each.name == name && (word.empty() || each.has_class(word))) found.push_back(each);
  }
  return found;
}

std::string flaw(const std::string& markup) {
  if (const std::string bytes = flaw_of_bytes(markup); !bytes.empty()) return bytes;
  std::vector<std::string> open;
  std::size_t at = markup.starts_with("<!DOCTYPE html>") ? 15 : 0;
  while (at < markup.size()) {
    const std::size_t tag = std::min(markup.find('<', at), markup.size());
    if (const std::string text = flaw_of_text(markup.substr(at, tag - at)); !text.empty()) return text;
    if (tag == markup.size()) break;
    const std::size_t end = markup.find('>', tag);
    if (end == std::string::npos) return "a tag without end";
    const std::string inside = markup.substr(tag + 1, end - tag - 1);
    at = end + 1;
    if (inside.starts_with('/')) {
      if (open.empty() || open.back() != inside.substr(1)) return "closes " + inside;
      open.pop_back();
      continue;
    }
    const std::size_t name_end = std::min(inside.find_first_of(" /\n"), inside.size());
    if (const std::string wrong = flaw_of_attributes(inside.substr(name_end)); !wrong.empty()) return wrong;
    if (!inside.ends_with('/')) open.push_back(inside.substr(0, name_end));
  }
  return open.empty() ? "" : "never closed: " + open.back();
}

}  // namespace lapwright::markup
