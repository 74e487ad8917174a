#include "daemon/engine_record.h"

#include "drivers/settings/reader.h"
#include "drivers/settings/wording.h"

namespace lapwright {
namespace {

using settings::IntRange;
using settings::Range;
using settings::Section;

Scale read_scale(Section& section) {
  if (!section.is_text("scale")) {
    const double ratio = section.number("scale", Range{1, 1000, "a scale's name such as \"HO\", or its ratio 1 :"});
    return Scale{"1:" + settings::plain(ratio), ratio};
  }
  const std::string name = section.text("scale");
  if (const auto scale = named_scale(name)) return *scale;
  std::string names;
  for (const NamedRatio& known : named_ratios()) names += (names.empty() ? "" : ", ") + std::string(known.name);
  section.complain("scale",
                   "\"" + name + "\" is no scale known here; give one of " + names + ", or the ratio as a number");
  return {};
}

void read_address(Section section, EngineRecord& record) {
  if (section.has("short") == section.has("long")) {
    section.complain("", "an engine has one address; give either \"short\" or \"long\"");
    section.ignore("short");
    section.ignore("long");
    return;
  }
  record.long_address = section.has("long");
  // S-9.2.2: 1 … 127 in CV1; S-9.2.1: long addresses up to 10239. Those below 128 would be ambiguous in records.
  record.address = record.long_address ? section.integer("long", IntRange{128, 10239, "a long address"})
                                       : section.integer("short", IntRange{1, 127, "a short address"});
}

std::vector<IndexedPage> read_pages(Section& section) {
  std::vector<IndexedPage> pages;
  for (Section part : section.sections("indexed_cvs", {.min = 0, .max = 256, .help = "pages of indexed CVs"})) {
    IndexedPage page;
    const std::vector<int> index = part.integers("page", {.min = 2, .max = 2, .help = "the values of CV31 and CV32"},
                                                 IntRange{0, 255, "a CV's value"});
    if (index.size() == 2) {
      page.high = static_cast<std::uint8_t>(index[0]);
      page.low = static_cast<std::uint8_t>(index[1]);
    }
    const auto cvs =
        part.integer_map("cvs", {.prefix = "CV", .min = 257, .max = 512}, IntRange{0, 255, "a CV's value"});
    for (const auto& [number, value] : cvs) page.cvs[number] = static_cast<std::uint8_t>(value);
    pages.push_back(std::move(page));
  }
  return pages;
}

}  // namespace

EngineRecord read_record(Section section) {
  EngineRecord record;
  record.name = section.text("name", {}, "the engine's name, which reports quote");
  record.road_number = section.text("road_number", std::string());
  record.scale = read_scale(section);
  read_address(section.section("address", "{\"short\": 1 … 127} or {\"long\": 128 … 10239}"), record);
  record.length_mm = section.maybe_number("length_mm", Range{20, 3000, "the length over couplers"});
  const auto cvs =
      section.integer_map("cvs", {.prefix = "CV", .min = 1, .max = 1024}, IntRange{0, 255, "a CV's value"});
  for (const auto& [number, value] : cvs) record.cvs[number] = static_cast<std::uint8_t>(value);
  record.pages = read_pages(section);
  Section traits = section.section_or_defaults("traits");
  record.traits.trims_act = traits.maybe_flag("trims_act");
  record.traits.table_scaled = traits.maybe_flag("table_scaled");
  record.traits.table_enabled = traits.maybe_flag("table_enabled");
  record.notes = section.text("notes", std::string());
  return record;
}

EngineRecord parse_record(std::string_view text, const std::string& name) {
  settings::Document document = settings::parse(text, name);
  EngineRecord record = read_record(document.root());
  document.finish();
  return record;
}

EngineRecord load_record(const std::filesystem::path& path) {
  settings::Document document = settings::load_file(path);
  EngineRecord record = read_record(document.root());
  document.finish();
  return record;
}

std::string title(const EngineRecord& record) {
  return record.road_number.empty() ? record.name : record.name + " no. " + record.road_number;
}

std::string file_stem(const EngineRecord& record) {
  std::string stem;
  for (const char letter : record.name + "_" + record.road_number) {
    const bool upper = letter >= 'A' && letter <= 'Z';
    const bool plain = (letter >= 'a' && letter <= 'z') || (letter >= '0' && letter <= '9');
    if (upper || plain) {
      stem += static_cast<char>(upper ? letter - 'A' + 'a' : letter);
    } else if (!stem.empty() && stem.back() != '_') {
      stem += '_';
    }
  }
  while (!stem.empty() && stem.back() == '_') stem.pop_back();
  return stem.empty() ? "engine_" + std::to_string(record.address) : stem;
}

}  // namespace lapwright
