// Runs a fuzz target over every file of its corpus, once each: where there is no libFuzzer, and in every test run.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <vector>

#include "tests/fuzz/property.h"

namespace {

std::vector<std::filesystem::path> files_of(const std::filesystem::path& folder) {
  std::vector<std::filesystem::path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.is_regular_file()) files.push_back(entry.path());
  }
  std::ranges::sort(files);
  return files;
}

void replay(const std::filesystem::path& file) {
  std::ifstream stream(file, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(stream), {}};
  std::fprintf(stderr, "%s\n", file.c_str());  // whatever ends the process now is this file's doing
  LLVMFuzzerTestOneInput(reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size());
}

}  // namespace

int main(int count, char** words) {
  if (count != 2) {
    std::fprintf(stderr, "usage: %s CORPUS-FOLDER-OR-FILE\n", words[0]);
    return 64;
  }
  try {
    const std::filesystem::path where = words[1];
    const std::vector<std::filesystem::path> files =
        std::filesystem::is_directory(where) ? files_of(where) : std::vector{where};
    for (const std::filesystem::path& file : files) replay(file);
    std::fprintf(stderr, "%zu inputs replayed\n", files.size());
    if (!files.empty()) return 0;
    std::fprintf(stderr, "%s holds no input: nothing was tested\n", where.c_str());
  } catch (const std::exception& error) {
    std::fprintf(stderr, "replay: %s\n", error.what());
  }
  return 1;
}
