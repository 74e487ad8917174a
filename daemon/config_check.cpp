#include "daemon/config_check.h"

#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <optional>
#include <set>
#include <system_error>
#include <utility>

#include "daemon/configuration.h"
#include "daemon/order.h"
#include "drivers/settings/errors.h"
#include "drivers/settings/sheet_file.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

void add_mistakes(const settings::Errors& errors, ExitCode code, ConfigCheck& check) {
  if (check.code == exit_ok) check.code = code;
  check.mistakes.insert(check.mistakes.end(), errors.lines().begin(), errors.lines().end());
}

/// @param load  throws settings::Errors
template <class Load>
void look_into(const fs::path& file, Load load, std::set<fs::path>& seen, ConfigCheck& check) {
  if (!seen.insert(file).second) return;
  try {
    (void)load(file);
  } catch (const settings::Errors& errors) {
    add_mistakes(errors, exit_bad_data, check);
  }
}

/// Whether they fit each other and the track. Only where each of them is in order: otherwise it would repeat itself.
void look_together(const Configuration& configuration, ConfigCheck& check) {
  try {
    (void)plan_shift(configuration);
    for (const ShiftEntry& entry : configuration.fleet) (void)load_job(entry, configuration);
  } catch (const settings::Errors& errors) {
    add_mistakes(errors, exit_bad_data, check);
  }
}

void look_at_hook(const fs::path& file, const char* key, const std::vector<std::string>& words, ConfigCheck& check) {
  if (words.empty() || ::access(words.front().c_str(), X_OK) == 0) return;
  check.remarks.push_back(file.string() + ": /hooks/" + key + ": " + words.front() +
                          " can't be run: " + std::generic_category().message(errno) +
                          "; the service works without it, and nobody is told");
}

std::string amount(std::size_t number, const std::string& what) {
  return std::to_string(number) + " " + what + (number == 1 ? "" : "s");
}

}  // namespace

ConfigCheck check_configuration(const fs::path& file, const fs::path& shift_file) {
  ConfigCheck check;
  std::optional<Configuration> configuration;
  try {
    configuration = load_configuration(file, shift_file);
  } catch (const settings::Errors& errors) {
    add_mistakes(errors, exit_configuration, check);
  }
  const std::vector<ShiftEntry> engines = configuration ? configuration->engines() : engines_of(file, shift_file);
  std::set<fs::path> records, sheets;
  for (const ShiftEntry& entry : engines) {
    if (entry.record.has_filename()) look_into(entry.record, load_record, records, check);
    if (entry.sheet.has_filename()) look_into(entry.sheet, settings::load_sheet, sheets, check);
  }
  if (!configuration) return check;
  if (check.mistakes.empty()) look_together(*configuration, check);
  look_at_hook(file, "on_finish", configuration->hooks.on_finish, check);
  look_at_hook(file, "on_trip", configuration->hooks.on_trip, check);
  if (!check.mistakes.empty()) return check;
  check.summary =
      file.string() + ": " + amount(engines.size(), "engine") + ", " + amount(sheets.size(), "sheet") + ": in order";
  return check;
}

}  // namespace lapwright
