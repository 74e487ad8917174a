#include "daemon/command_line.h"

#include <unistd.h>

#include <CLI/CLI.hpp>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>

#include "daemon/configuration.h"
#include "daemon/control_client.h"
#include "daemon/control_path.h"
#include "daemon/exit_codes.h"
#include "daemon/export.h"
#include "daemon/order.h"
#include "daemon/rehearse.h"
#include "daemon/service.h"
#include "daemon/store/durable_file.h"
#include "daemon/store/state_lock.h"
#include "daemon/terminal_style.h"
#include "drivers/links/link_errors.h"
#include "drivers/settings/errors.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

struct Wishes {
  std::string config;
  std::optional<std::uint64_t> seed;
  std::string output;
  std::string socket;
  std::string record;
  bool once = false;
  bool json = false;
};

void say(std::string_view text) {
  std::fwrite(text.data(), 1, text.size(), stdout);
  std::fflush(stdout);
}

int complain(int code, const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
  return code;
}

/// Configuration mistakes and mistakes in the owner's records and sheets have codes of their own.
template <class Work>
int with_configuration(const Wishes& wishes, Work work) {
  Configuration configuration;
  try {
    configuration = load_configuration(wishes.config);
  } catch (const settings::Errors& errors) {
    return complain(exit_configuration, errors.what());
  }
  if (wishes.seed) configuration.rig.seed = *wishes.seed;
  if (!wishes.output.empty()) configuration.reports = wishes.output;
  if (!wishes.socket.empty()) configuration.control_socket = wishes.socket;
  try {
    const std::vector<Job> jobs = plan_shift(configuration);
    return work(configuration, jobs);
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
  return with_configuration(wishes, [&](const Configuration& configuration, const std::vector<Job>& jobs) {
    return serve(configuration, jobs, ServeOptions{wishes.record, wishes.once});
  });
}

int run_show_config(const Wishes& wishes) {
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

fs::path socket_of(const Wishes& wishes) {
  return wishes.socket.empty() ? default_control_socket() : fs::path(wishes.socket);
}

void add_config(CLI::App& command, Wishes& wishes, bool as_option) {
  command.add_option(as_option ? "--config,config" : "config", wishes.config, "configuration file")
      ->required()
      ->type_name("FILE");
}

}  // namespace

int run_command_line(int count, char** words) {
  Wishes wishes;
  int code = exit_ok;
  const bool as_daemon = count > 0 && fs::path(words[0]).filename() == "lapwrightd";
  CLI::App app(
      "Lapwright tunes model railway engines by itself: it drives them past timing gates, rewrites the\n"
      "decoder's speed table and proves every speed step.",
      as_daemon ? "lapwrightd" : "lapwright");
  CLI::App* serving = &app;
  if (as_daemon) {
    app.final_callback([&] { code = run_serve(wishes); });
  } else {
    app.require_subcommand(1);
    CLI::App* rehearsing = app.add_subcommand("rehearse", "run the whole shift on a simulated railway, in seconds");
    add_config(*rehearsing, wishes, false);
    rehearsing->add_option("--seed", wishes.seed, "the simulated railway's luck");
    rehearsing->add_option("--output", wishes.output, "folder for the reports")->type_name("FOLDER");
    rehearsing->final_callback([&] { code = run_rehearse(wishes); });
    CLI::App* showing = app.add_subcommand("show-config", "print every setting in use, defaults included");
    add_config(*showing, wishes, false);
    showing->final_callback([&] { code = run_show_config(wishes); });
    CLI::App* exporting = app.add_subcommand("export", "print every pass that was ever measured, as CSV");
    add_config(*exporting, wishes, false);
    exporting->add_flag("--json", wishes.json, "everything that the journals hold, as one JSON document");
    exporting->final_callback([&] { code = run_export(wishes); });
    CLI::App* status = app.add_subcommand("status", "what the service is doing");
    status->add_flag("--json", wishes.json, "as one JSON document");
    status->final_callback([&] { code = ask_status(socket_of(wishes), wishes.json); });
    CLI::App* watch = app.add_subcommand("watch", "follow the service until interrupted");
    watch->final_callback([&] { code = ask_watch(socket_of(wishes)); });
    CLI::App* halt = app.add_subcommand("halt", "halt the engine and make the track dead, at once");
    halt->final_callback([&] { code = ask_halt(socket_of(wishes)); });
    CLI::App* doctor = app.add_subcommand("doctor", "check links, board, sensor, gates and relay, and say what to do");
    doctor->add_flag("--json", wishes.json, "as one JSON document");
    doctor->final_callback([&] { code = ask_check(socket_of(wishes), wishes.json); });
    CLI::App* clear = app.add_subcommand("clear", "you have looked at what tripped: let the shift go on");
    clear->final_callback([&] { code = ask_clear(socket_of(wishes)); });
    for (CLI::App* command : {status, watch, doctor, halt, clear}) {
      command->add_option("--socket", wishes.socket, "control socket of the service")->type_name("PATH");
    }
    serving = app.add_subcommand("serve", "run the shift in real time and stay; lapwrightd is the same");
    serving->final_callback([&] { code = run_serve(wishes); });
  }
  add_config(*serving, wishes, true);
  serving->add_flag("--once", wishes.once, "end after the last engine");
  serving->add_option("--socket", wishes.socket, "control socket to listen at")->type_name("PATH");
  serving->add_option("--record", wishes.record, "keep the traffic of all links in this file")->type_name("FILE");
  try {
    app.parse(count, words);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? exit_ok : exit_usage;
  } catch (const std::exception& fault) {  // the last stop: engines are at rest, the owner gets to read why
    return complain(exit_internal, std::string("a fault of the program: ") + fault.what());
  }
  return code;
}

}  // namespace lapwright
