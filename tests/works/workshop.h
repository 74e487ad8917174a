// One engine of the demo railway and its decoder, which remembers from work to work, on the virtual clock.
#pragma once

#include <functional>
#include <nlohmann/json.hpp>

#include "daemon/engine_file.h"
#include "daemon/shift.h"
#include "tests/crashes/remembering_stand.h"
#include "tests/temporary_folder.h"

namespace lapwright::workday {

class Workshop {
 public:
  Workshop();  ///< Tarn Lady no. 3, by the notched freight sheet
  /// @param sheet  below configs
  Workshop(const std::filesystem::path& engine_file, const std::string& sheet, std::uint64_t seed);
  /// A shift with that one work. @throws what it throws
  ShiftTurn run(Work work);
  /// What its decoder holds.
  [[nodiscard]] std::map<int, std::uint8_t>& decoder() { return decoders_[configuration.rig.engines.front().address]; }
  [[nodiscard]] simulated::EngineDescription& engine() { return configuration.rig.engines.front(); }
  [[nodiscard]] EngineFile file();
  /// Its decoder answers: that is switched on in CV29 bit 3 (S-9.2.2), and the owner's record says so.
  void let_it_talk();
  /// Its decoder is as it came from the factory.
  void reset_decoder();
  /// To long address 1042.
  void move_to_long_address();

  Configuration configuration;
  int writes = 0;                         ///< that its decoder has taken
  std::function<void()> written = [] {};  ///< called after each of them; what it changes holds from the next address on
  std::vector<std::string> phases;
  /// Of the latest work, with its time: phases, passes and the like.
  struct Told {
    double at_s = 0;
    std::string what;
  };
  std::vector<Told> story;

 private:
  void change_record(const std::function<void(nlohmann::json&)>& change);

  TemporaryFolder folder_;
  RealStorage storage_;
  crashes::Decoders decoders_;
  std::time_t now_ = 1'795'000'000;
};

}  // namespace lapwright::workday
