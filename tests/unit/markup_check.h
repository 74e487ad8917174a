// Reads pages and drawings with a real XML parser, and checks by itself what that parser lets pass.
#pragma once

#include <map>
#include <string>
#include <vector>

namespace lapwright::markup {

struct Element {
  std::string name;
  std::map<std::string, std::string> attributes;
  std::string text;                                                   ///< its own, without that of the elements in it
  std::string all;                                                    ///< with theirs
  [[nodiscard]] std::string attribute(const std::string& key) const;  ///< empty where there is none
  [[nodiscard]] double number(const std::string& key) const;          ///< NaN where there is none
  [[nodiscard]] bool has_class(const std::string& word) const;
};

/// All elements in the order of their opening tags. @throws boost::property_tree::xml_parser_error
[[nodiscard]] std::vector<Element> elements(const std::string& markup);

/// Those of a name and, unless empty, a class.
[[nodiscard]] std::vector<Element> named(const std::vector<Element>& all, const std::string& name,
                                         const std::string& word = "");

/// What is wrong with the markup as XML: tags that don't match, bare ampersands, quotes, repeated attributes, bytes
/// that are no UTF-8; empty for good markup.
[[nodiscard]] std::string flaw(const std::string& markup);

}  // namespace lapwright::markup
