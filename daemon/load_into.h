// Files that name other files: where these are, and how their mistakes are told together.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/settings/errors.h"
#include "drivers/settings/reader.h"

namespace lapwright {

/// A path as it stands in a file, made relative to the file's folder.
[[nodiscard]] inline std::filesystem::path placed(const std::filesystem::path& folder, const std::string& path) {
  return std::filesystem::path(path).is_absolute() ? std::filesystem::path(path) : (folder / path).lexically_normal();
}

/// Reads another file; its mistakes are noted in `others`, to be told behind those of this document.
template <class Load>
auto load_into(settings::Section& section, std::string_view key, const std::filesystem::path& path,
               std::vector<std::string>& others, Load load) {
  try {
    return load(path);
  } catch (const settings::Errors& errors) {
    section.complain(key, "\"" + path.string() + "\" can't be used; correct that file, its mistakes follow");
    others.insert(others.end(), errors.lines().begin(), errors.lines().end());
    return decltype(load(path)){};
  }
}

/// What stands under the key itself, or in the file that it names.
template <class Load, class Read>
auto named_or_written(settings::Section& section, std::string_view key, const std::filesystem::path& folder,
                      std::vector<std::string>& others, Load load, Read read) {
  if (section.is_text(key)) return load_into(section, key, placed(folder, section.text(key)), others, load);
  return read(section.section(key, "an object, or the name of its file"));
}

/// All mistakes at once: those of the document first. @throws settings::Errors
inline void finish_all(settings::Document& document, const std::vector<std::string>& others) {
  try {
    document.finish();
  } catch (const settings::Errors& errors) {
    std::vector<std::string> lines = errors.lines();
    lines.insert(lines.end(), others.begin(), others.end());
    throw settings::Errors(std::move(lines));
  }
}

}  // namespace lapwright
