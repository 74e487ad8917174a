// Runs a script in a shell, for tests of what is made for shells.
#pragma once

#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <fstream>
#include <stdexcept>
#include <string>

#include "tests/temporary_folder.h"

namespace lapwright {

/// What the script writes to stdout and stderr. @param shell  its name, and options
/// @throws std::runtime_error  when the shell can't be started or the script ends with another status than 0
inline std::string shell_run(const std::string& shell, const std::string& script) {
  const TemporaryFolder folder;
  const std::string file = (folder.path() / "script").string();
  std::ofstream(file) << script;
  std::FILE* pipe = ::popen((shell + " " + file + " 2>&1").c_str(), "r");
  if (pipe == nullptr) throw std::runtime_error("can't start " + shell);
  std::string said;
  std::array<char, 4096> part{};
  while (const std::size_t got = std::fread(part.data(), 1, part.size(), pipe)) said.append(part.data(), got);
  const int status = ::pclose(pipe);
  if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) throw std::runtime_error(shell + " failed: " + said);
  return said;
}

/// Whether there is such a program on the path.
inline bool has_program(const std::string& name) { return shell_run("sh", "command -v " + name + " || true") != ""; }

}  // namespace lapwright
