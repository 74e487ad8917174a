#include "daemon/command_line.h"

#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <string>

#include "daemon/command_tree.h"
#include "daemon/completion.h"
#include "daemon/config_check.h"
#include "daemon/configuration.h"
#include "daemon/control_client.h"
#include "daemon/control_path.h"
#include "daemon/exit_codes.h"
#include "daemon/export.h"
#include "daemon/loops.h"
#include "daemon/order.h"
#include "daemon/queue_request.h"
#include "daemon/rehearse.h"
#include "daemon/store/durable_file.h"
#include "daemon/store/state_lock.h"
#include "daemon/terminal_style.h"
#include "drivers/links/link_errors.h"
#include "drivers/settings/errors.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

void say(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
}

int complain(int code, const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
  return code;
}

/// Mistakes in the owner's records and sheets, and what is in use or can't be had, have codes of their own.
template <class Work>
int with_known_faults(Work work) {
  try {
    return work();
  } catch (const settings::Errors& errors) {
    return complain(exit_bad_data, errors.what());
  } catch (const FileLost& lost) {
    return complain(exit_of_file(lost.error()), lost.what());
  } catch (const LinkInUse& taken) {
    return complain(exit_in_use, taken.what());
  } catch (const StateInUse& taken) {
    return complain(exit_in_use, taken.what());
  } catch (const SocketInUse& taken) {
    return complain(exit_in_use, taken.what());
  } catch (const SocketTrouble& trouble) {
    return complain(exit_io, trouble.what());
  }
}

/// Mistakes in the configuration, too.
template <class Work>
int with_configuration(const Wishes& wishes, Work work) {
  Configuration configuration;
  try {
    configuration = load_configuration(wishes.config, wishes.shift);
  } catch (const settings::Errors& errors) {
    return complain(exit_configuration, errors.what());
  }
  if (wishes.seed) configuration.rig.seed = *wishes.seed;
  if (!wishes.output.empty()) configuration.reports = wishes.output;
  if (!wishes.socket.empty()) configuration.control_socket = wishes.socket;
  return with_known_faults([&]() -> int {
    const std::vector<Job> jobs = plan_shift(configuration);
    return work(configuration, jobs);
  });
}

int run_rehearse(const Wishes& wishes) {
  return with_configuration(wishes, [](const Configuration& configuration, const std::vector<Job>& jobs) {
    if (configuration.wires) {
      return complain(exit_configuration, configuration.file.string() +
                                              ": /rig/kind: \"wired\" can't be rehearsed; take a configuration whose "
                                              "rig is \"simulated\"");
    }
    return rehearse(configuration, jobs, style_of(STDOUT_FILENO), say);
  });
}

int run_serve(const Wishes& wishes) {
  const bool for_one = !wishes.shift.empty() || !wishes.socket.empty() || !wishes.record.empty();
  if (for_one && wishes.configs.size() > 1) {
    return complain(exit_usage,
                    "--shift, --socket and --record are for one configuration; of several, each has its own");
  }
  std::vector<ServedLoop> loops;
  for (const std::string& file : wishes.configs) {
    Wishes one = wishes;
    one.config = file;
    const int code = with_configuration(one, [&](const Configuration& configuration, const std::vector<Job>& jobs) {
      loops.push_back({configuration, jobs});
      return exit_ok;
    });
    if (code != exit_ok) return code;
  }
  const std::string shared = what_loops_share(loops);
  if (!shared.empty()) return complain(exit_configuration, shared);
  return with_known_faults([&] {
    ServeOptions options;
    options.record = wishes.record;
    options.anew = wishes.anew;
    options.once = wishes.once;
    return serve(loops, options);
  });
}

int run_config_check(const Wishes& wishes) {
  const ConfigCheck check = check_configuration(wishes.config, wishes.shift);
  for (const std::string& line : check.mistakes) std::fprintf(stderr, "%s\n", line.c_str());
  for (const std::string& line : check.remarks) std::fprintf(stderr, "%s\n", line.c_str());
  if (!check.summary.empty()) say(check.summary + "\n");
  return check.code;
}

int run_config_show(const Wishes& wishes) {
  return with_configuration(wishes, [](const Configuration& configuration, const std::vector<Job>& jobs) {
    say(configuration.effective);
    for (const Job& job : jobs)
      say("# " + title(job.record) + ": \"" + job.sheet.name + "\" " + job.speed_defined + "\n");
    return exit_ok;
  });
}

int run_export(const Wishes& wishes) {
  return with_configuration(wishes, [&](const Configuration& configuration, const std::vector<Job>&) {
    RealStorage storage;
    const std::vector<ShiftRecords> shifts = all_shifts(storage, configuration.state / "journal");
    for (const ShiftRecords& shift : shifts) {
      if (shift.text.bad_lines == 0) continue;
      std::fprintf(stderr, "%s: %d lines are spoilt and left out\n", shift.file.c_str(), shift.text.bad_lines);
    }
    say(wishes.json ? records_json(shifts) : passes_csv(shifts));
    return static_cast<int>(exit_ok);
  });
}

/// One script for both names: a shell looks for it by the name that was typed.
int run_completion(const Wishes& wishes) {
  Wishes unused;
  const auto lapwright = command_tree(CalledAs::lapwright, unused);
  const auto lapwrightd = command_tree(CalledAs::lapwrightd, unused);
  say(completion_script(shell_named(wishes.shell), {lapwright.get(), lapwrightd.get()}));
  return exit_ok;
}

fs::path socket_of(const Wishes& wishes) {
  return wishes.socket.empty() ? default_control_socket() : fs::path(wishes.socket);
}

/// What the queue's commands ask of the service.
std::string request_of(const Wishes& wishes) {
  const auto add = [&](Work work) { return add_request(wishes.engines, wishes.sheet, work); };
  switch (wishes.command) {
    case Command::queue_add:
      return add(read_work(wishes.work).value_or(Work::tune));
    case Command::check:
      return add(wishes.all ? Work::check_all : Work::check);
    case Command::restore:
      return add(Work::restore);
    case Command::undo:
      return add(Work::undo);
    case Command::queue_move:
      return move_request(wishes.entry, wishes.place);
    case Command::queue_cancel:
      return cancel_request(wishes.entry);
    case Command::queue_pause:
      return pause_request(wishes.now);
    case Command::queue_resume:
      return resume_request();
    case Command::ready:
      return ready_request(wishes.engines.empty() ? "" : wishes.engines.front());
    default:
      return list_request();
  }
}

int carry_out(const Wishes& wishes) {
  switch (wishes.command) {
    case Command::rehearse:
      return run_rehearse(wishes);
    case Command::serve:
      return run_serve(wishes);
    case Command::config_check:
      return run_config_check(wishes);
    case Command::config_show:
      return run_config_show(wishes);
    case Command::export_passes:
      return run_export(wishes);
    case Command::status:
      return ask_status(socket_of(wishes), wishes.json);
    case Command::watch:
      return ask_watch(socket_of(wishes));
    case Command::doctor:
      return ask_check(socket_of(wishes), wishes.json);
    case Command::halt:
      return ask_halt(socket_of(wishes));
    case Command::clear:
      return ask_clear(socket_of(wishes));
    case Command::queue:
    case Command::queue_add:
    case Command::queue_move:
    case Command::queue_cancel:
    case Command::queue_pause:
    case Command::queue_resume:
    case Command::ready:
    case Command::check:
    case Command::restore:
    case Command::undo:
      return ask_queue(socket_of(wishes), request_of(wishes), wishes.json);
    case Command::completion:
      return run_completion(wishes);
    case Command::none:
      break;
  }
  return exit_usage;
}

}  // namespace

int run_command_line(int count, char** words) {
  Wishes wishes;
  const bool as_daemon = count > 0 && fs::path(words[0]).filename() == "lapwrightd";
  const auto app = command_tree(as_daemon ? CalledAs::lapwrightd : CalledAs::lapwright, wishes);
  try {
    app->parse(count, words);
  } catch (const CLI::ParseError& error) {
    return app->exit(error) == 0 ? exit_ok : exit_usage;
  }
  try {
    return carry_out(wishes);
  } catch (const std::exception& fault) {  // the last stop: engines are at rest, the owner gets to read why
    return complain(exit_internal, std::string("a fault of the program: ") + fault.what());
  }
}

}  // namespace lapwright
