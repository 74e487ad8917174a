// Reads a settings file strictly: unknown keys are mistakes, and all mistakes are reported at once with their lines.
#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>
#include <vector>

#include "drivers/settings/errors.h"
#include "drivers/settings/section.h"

namespace lapwright::settings {

struct State;

/// A settings file and all that was found wrong with it so far.
class Document {
 public:
  Document(std::string_view text, std::string name);
  Document(Document&&) noexcept;
  Document& operator=(Document&&) noexcept;
  ~Document();
  [[nodiscard]] Section root();
  [[nodiscard]] const std::string& name() const;
  /// Call after the last reading. @throws Errors  all mistakes, keys that nobody read among them
  void finish();
  [[nodiscard]] const std::vector<Setting>& effective() const;  ///< in the order of reading
  [[nodiscard]] std::string effective_text() const;             ///< one line for each, defaults marked

 private:
  std::unique_ptr<State> state_;
};

/// @param name  what to call the text in messages. @throws Errors  where it is no JSON
[[nodiscard]] Document parse(std::string_view text, std::string name);
/// The only function here that touches files. @throws Errors  also where the file can't be read
[[nodiscard]] Document load_file(const std::filesystem::path& path);

}  // namespace lapwright::settings
