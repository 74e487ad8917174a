#include "daemon/export.h"

#include <spdlog/fmt/fmt.h>

#include <algorithm>

#include "daemon/store/heard_record.h"

namespace lapwright {
namespace {

constexpr std::string_view csv_names =
    "shift,number,at,engine,sheet,step,direction,drive,speed_mm_s,timing_sd_mm_s,doubt_mm_s,running_s,trouble\r\n";

/// RFC 4180, 2.5-2.7.
std::string in_csv(const std::string& text) {
  if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
  std::string quoted = "\"";
  for (const char letter : text) {
    if (letter == '"') quoted += '"';
    quoted += letter;
  }
  return quoted + '"';
}

std::string csv_word(const Record& record, const char* key) { return in_csv(record.value(key, "")); }

std::string csv_line(const std::string& file, const Record& record, const Passed& pass, const std::string& job) {
  const PassReading& reading = pass.reading;
  const bool good = reading.trouble == PassTrouble::none;
  const std::string speed = good ? fmt::format("{},{},{},{}", reading.speed_mm_s, reading.timing_sd_mm_s,
                                               reading.doubt_mm_s, reading.running_s)
                                 : ",,,";
  return fmt::format("{},{},{},{},{},{},{},{},{}\r\n", in_csv(file), record.value("seq", 0), csv_word(record, "at"),
                     job, pass.step, code(pass.direction), pass.drive, speed, csv_word(record, "trouble"));
}

}  // namespace

std::vector<ShiftRecords> all_shifts(Storage& storage, const std::filesystem::path& folder) {
  std::vector<ShiftRecords> result;
  for (const std::string& name : storage.list(folder)) {
    if (!name.ends_with(".jsonl")) continue;
    const std::filesystem::path path = folder / name;
    result.push_back({name, read_journal(storage.read(path).value_or(""), path)});
  }
  return result;
}

std::string passes_csv(const std::vector<ShiftRecords>& shifts) {
  std::string text(csv_names);
  for (const ShiftRecords& shift : shifts) {
    std::string job = ",";  // engine and sheet
    for (const Record& record : shift.text.records) {
      const std::string kind = record.value("kind", "");
      if (kind == "job") job = csv_word(record, "engine") + "," + csv_word(record, "sheet");
      const std::optional<Heard> heard = read_heard(record);
      const Passed* const pass = heard ? std::get_if<Passed>(&heard->what) : nullptr;
      if (pass != nullptr) text += csv_line(shift.file, record, *pass, job);
    }
  }
  return text;
}

std::string records_json(const std::vector<ShiftRecords>& shifts) {
  Record all = {{"shifts", Record::array()}};
  for (const ShiftRecords& shift : shifts) {
    all["shifts"].push_back(
        {{"file", shift.file}, {"bad_lines", shift.text.bad_lines}, {"records", shift.text.records}});
  }
  return all.dump(1, ' ', false, Record::error_handler_t::replace) + "\n";
}

}  // namespace lapwright
