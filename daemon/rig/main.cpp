// lapwright-rig: serves simulated railways over real wires, and switches their faults.
#include <CLI/CLI.hpp>
#include <cstdio>
#include <string>
#include <system_error>

#include "daemon/control_link.h"
#include "daemon/control_path.h"
#include "daemon/exit_codes.h"
#include "daemon/rig/rig_service.h"
#include "drivers/settings/errors.h"
#include "drivers/simulated/served/fault_switches.h"

namespace lapwright {
namespace {

constexpr int answer_limit_ms = 5000;

int complain(int code, const std::string& text) {
  std::fprintf(stderr, "%s\n", text.c_str());
  return code;
}

int tell(const RigFile& file, const std::string& words) {
  ControlLink link(file.control_socket);
  link.send(words);
  const auto said = link.receive(answer_limit_ms);
  if (!said) return complain(exit_not_reachable, "lapwright-rig has ended");
  if (said->starts_with("refused: ")) return complain(exit_usage, *said);
  std::printf("%s\n", said->c_str());
  return exit_ok;
}

int run(int count, char** words) {
  CLI::App app("Serves simulated railways over TCP and pseudo-terminals, for Lapwright to be tried on.");
  std::string config, told;
  app.add_option("config", config, "what to serve")->required()->type_name("FILE");
  app.add_option("--tell", told,
                 "asks the program that serves this file instead: RIG " + std::string(simulated::FaultSwitches::help()))
      ->type_name("WORDS");
  try {
    app.parse(count, words);
  } catch (const CLI::ParseError& error) {
    return app.exit(error) == 0 ? exit_ok : exit_usage;
  }
  try {
    const RigFile file = load_rig_file(config);
    return told.empty() ? serve_rigs(file) : tell(file, told);
  } catch (const settings::Errors& errors) {
    return complain(exit_configuration, errors.what());
  } catch (const NotReachable& nobody) {
    return complain(exit_not_reachable, nobody.what());
  } catch (const SocketInUse& taken) {
    return complain(exit_in_use, taken.what());
  } catch (const SocketTrouble& trouble) {
    return complain(exit_io, trouble.what());
  } catch (const std::system_error& trouble) {
    const bool taken = trouble.code() == std::errc::address_in_use;
    return complain(taken ? exit_in_use : exit_io, trouble.what());
  }
}

}  // namespace
}  // namespace lapwright

int main(int count, char** words) { return lapwright::run(count, words); }
