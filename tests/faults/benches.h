// Many bench loops at once, each with a service of its own at work, for one fault each.
#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "tests/whole_job/works.h"

namespace lapwright {

class Benches : public Works {
 public:
  /// Serves a copy of that loop of configs/works for each name, starts a service on each, and waits until all engines
  /// run.
  void start(const std::string& loop, const std::vector<std::string>& names);
  /// The same, without services.
  void serve_loops(const std::string& loop, const std::vector<std::string>& names);
  /// Another service on the same loop, after the first has ended, or the first where there was none.
  void start_again(const std::string& name);
  [[nodiscard]] Process& service(const std::string& name) { return *services_.at(name); }
  /// Switches a fault on. @return the rig's time, s
  double fault(const std::string& name, const std::string& words);
  /// The rig's time now, as it says it, s
  double mark(const std::string& name);
  /// How long after that time the rails were dead, by the rig's own knowledge; empty: they are not.
  [[nodiscard]] std::optional<double> dead_after_s(const std::string& name, double since_s, double limit_s);
  /// What the rig says of the engine: "engine at 412.0 mm, 35.1 mm/s, track live …".
  [[nodiscard]] std::string status(const std::string& name);
  [[nodiscard]] double speed_mm_s(const std::string& name);
  [[nodiscard]] bool comes_to_rest(const std::string& name);

 private:
  void start_service(const std::string& name);
  [[nodiscard]] std::optional<double> last_told_s(const std::string& name, const std::string& words) const;

  std::map<std::string, std::unique_ptr<Process>> services_;
};

}  // namespace lapwright
