// The works of configs/works in a folder of its own: free ports, the rig as a process, and what the reports say.
#pragma once

#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>

#include "tests/service/process.h"
#include "tests/temporary_folder.h"

namespace lapwright {

class Works {
 public:
  Works();
  /// Starts lapwright-rig and reads where its stations are. Fails the test when it does not come up.
  void serve();
  /// The configuration of configs/works by that name, with the rig's port and device, and reports in this folder.
  /// @return its file
  [[nodiscard]] std::filesystem::path wired(const std::string& name);
  /// The same track, engine and sheet on the simulated railway that the rig serves, without wires.
  [[nodiscard]] std::filesystem::path direct(const std::string& name);
  [[nodiscard]] std::filesystem::path folder() const { return own_.path(); }
  [[nodiscard]] std::filesystem::path file(const std::string& name) const { return own_.path() / name; }
  [[nodiscard]] std::string text(const std::string& name) const;
  [[nodiscard]] nlohmann::json json(const std::string& name) const;
  void write(const std::string& name, const nlohmann::json& json) const;
  /// What the tune of Rowan under this configuration left.
  [[nodiscard]] nlohmann::json report(const std::string& configuration) const;
  [[nodiscard]] Process& rig() { return *rig_; }
  [[nodiscard]] std::string rig_output() const { return rig_->output(); }
  [[nodiscard]] int port(const std::string& rig_name) const;
  /// That rig's part of rig.json.
  [[nodiscard]] nlohmann::json rig_json(const std::string& rig_name) const;
  /// Says `words` to the rig by its command line. @return its exit status
  int tell(const std::string& words);

 private:
  TemporaryFolder own_;
  std::unique_ptr<Process> rig_;
};

/// Largest error of any proved step, as a share of its tolerance, by the noise-free speed of the simulated engine with
/// the CVs that the report says are in its decoder. The track is the very one of the rig, by its seed.
[[nodiscard]] double worst_error(const nlohmann::json& report, const nlohmann::json& rig,
                                 const std::filesystem::path& engine_file);

}  // namespace lapwright
