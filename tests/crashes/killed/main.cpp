// A program for the kill test: goes on with the shift of a state folder in virtual time, as a process that can be
// killed. The decoders' own memory is a file beside it, since that survives whatever happens to the service.
#include <cstdlib>
#include <fstream>
#include <iostream>

#include "tests/crashes/speeded.h"

namespace lapwright::crashes {
namespace {

void keep(const Decoders& decoders, const std::filesystem::path& path) {
  {
    std::ofstream out(path.string() + ".new");
    for (const auto& [address, memory] : decoders) {
      for (const auto& [cv, value] : memory) out << address << ' ' << cv << ' ' << int{value} << '\n';
    }
  }
  std::filesystem::rename(path.string() + ".new", path);
}

Decoders kept(const std::filesystem::path& path) {
  Decoders decoders;
  std::ifstream in(path);
  for (int address = 0, cv = 0, value = 0; in >> address >> cv >> value;) {
    decoders[address][cv] = static_cast<std::uint8_t>(value);
  }
  return decoders;
}

}  // namespace
}  // namespace lapwright::crashes

/// killed_shift FOLDER TRIES: @param TRIES  how often it was started before
int main(int count, char** words) {
  using namespace lapwright;
  if (count != 3) return 2;
  const std::filesystem::path folder = words[1];
  crashes::World world = crashes::quick_world(2);
  world.decoders = crashes::kept(folder / "decoders");
  world.now += std::atoi(words[2]) * 2 * 3600;
  RealStorage storage;
  try {
    crashes::run_on(world, storage, folder / "state", [&] { crashes::keep(world.decoders, folder / "decoders"); });
  } catch (const std::exception& fault) {
    std::cerr << fault.what() << '\n';
    return 70;
  }
  return 0;
}
