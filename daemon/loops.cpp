#include "daemon/loops.h"

#include <algorithm>
#include <cstdio>
#include <exception>
#include <map>
#include <thread>

#include "daemon/exit_codes.h"

namespace lapwright {
namespace {

namespace fs = std::filesystem;

std::string name_of(const ServedLoop& loop) { return loop.configuration.file.stem().string(); }

/// Where it ended by a fault, and which.
struct LoopEnd {
  int code = exit_ok;
  std::exception_ptr failure;
};

void run_loop(RunningService& service, const std::string& name, LoopEnd& end) {
  try {
    end.code = service.run();
  } catch (const std::exception& failure) {
    end.failure = std::current_exception();
    std::fprintf(stderr, "%s: its service has ended, the other loops go on: %s\n", name.c_str(), failure.what());
  }
}

}  // namespace

std::string what_loops_share(const std::vector<ServedLoop>& loops) {
  std::map<fs::path, std::string> states, sockets;
  for (const ServedLoop& loop : loops) {
    const std::string file = loop.configuration.file.string();
    const auto state = states.emplace(fs::weakly_canonical(loop.configuration.state), file);
    const auto socket = sockets.emplace(fs::weakly_canonical(loop.configuration.control_socket), file);
    for (const auto& [place, key] : {std::pair(state, "state"), std::pair(socket, "control_socket")}) {
      if (place.second) continue;
      return file + ": /" + key + ": " + place.first->first.string() + " is that of " + place.first->second +
             ", too; give each loop its own \"state\" and \"control_socket\"";
    }
  }
  return {};
}

int serve(const std::vector<ServedLoop>& loops, const ServeOptions& options) {
  std::vector<std::string> names;
  names.reserve(loops.size());
  for (const ServedLoop& loop : loops) names.push_back(loops.size() == 1 ? "lapwright" : name_of(loop));
  SharedManager manager(ServiceManager::of_environment(), names);
  std::vector<std::unique_ptr<RunningService>> services;
  services.reserve(loops.size());
  for (std::size_t own = 0; own < loops.size(); ++own) {
    ServeOptions with = options;
    with.log_name = names[own];
    if (loops.size() > 1) {
      with.halt_others = [&services, own](const std::string& who) {
        for (std::size_t other = 0; other < services.size(); ++other) {
          if (other != own) services[other]->halt_from_elsewhere(who);
        }
      };
    }
    const ManagedLoop voice(manager, own);
    services.push_back(make_service(loops[own].configuration, loops[own].jobs, std::move(with), voice));
  }
  if (services.size() == 1) return services.front()->run();
  std::vector<LoopEnd> ends(services.size());
  {
    std::vector<std::jthread> threads;
    for (std::size_t loop = 0; loop < services.size(); ++loop) {
      threads.emplace_back([&, loop] {
        run_loop(*services[loop], names[loop], ends[loop]);
        manager.over(loop);
      });
    }
  }
  for (const LoopEnd& end : ends) {
    if (end.failure) std::rethrow_exception(end.failure);
  }
  return std::max_element(ends.begin(), ends.end(), [](const LoopEnd& a, const LoopEnd& b) { return a.code < b.code; })
      ->code;
}

}  // namespace lapwright
