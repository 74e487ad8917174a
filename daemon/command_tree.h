// What may be typed: every command with its options, built without running any of them.
#pragma once

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "daemon/cli_app.h"

namespace lapwright {

enum class Command : std::uint8_t {
  none,
  rehearse,
  serve,
  config_check,
  config_show,
  export_passes,
  status,
  watch,
  doctor,
  halt,
  clear,
  completion,
  queue,
  queue_add,
  queue_move,
  queue_cancel,
  queue_pause,
  queue_resume,
  ready,
  check,
  restore,
  undo,
};

/// What was typed.
struct Wishes {
  Command command = Command::none;
  std::string config;
  std::vector<std::string> configs;  ///< of the loops to be served
  std::string shift;                 ///< file; empty: what the configuration names
  std::optional<std::uint64_t> seed;
  std::string output;
  std::string socket;
  std::string record;
  std::string shell;                 ///< "bash", "zsh" or "fish"
  std::vector<std::string> engines;  ///< names, or files of records
  std::string sheet;
  std::string work = "tune";
  int entry = 0;  ///< of the queue
  int place = 0;  ///< in it, from 1
  bool now = false;
  bool all = false;
  bool anew = false;
  bool once = false;
  bool json = false;
};

/// The name that the program is called by; as "lapwrightd" it is "lapwright serve".
enum class CalledAs : std::uint8_t { lapwright, lapwrightd };

/// Parsing with it fills `wishes`, which outlive it. What the type of an argument is called says how a shell completes
/// it: FILE, PATH and FOLDER by names on the disk, what CLI::IsMember allows by those words, anything else not at all.
[[nodiscard]] std::shared_ptr<CLI::App> command_tree(CalledAs name, Wishes& wishes);

}  // namespace lapwright
