// A disk in memory that loses power: of what it was told only what was synced is sure to be there afterwards.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/store/storage.h"
#include "drivers/simulated/random.h"

namespace lapwright::crashes {

/// The power went during an operation: nothing that comes after it happens.
struct PowerCut {};

class SimulatedDisk final : public Storage {
 public:
  explicit SimulatedDisk(std::uint64_t seed) : random_(seed) {}

  // What happens in the operation of that number, counted from 0.
  std::optional<int> power_cut_at;
  std::optional<int> fails_at;  ///< with `error`; also every later operation until `repair`
  int error = 0;
  [[nodiscard]] int operations() const { return operations_; }
  [[nodiscard]] bool dead() const { return dead_; }
  void repair() { fails_at.reset(); }
  /// What is there when the power is back: files as they were synced, names of unsynced folders as chance will have it,
  /// and of the file that was being written any part.
  void restart();

  [[nodiscard]] std::optional<std::string> read(const std::filesystem::path& path) override;
  [[nodiscard]] std::vector<std::string> list(const std::filesystem::path& folder) override;
  void make_folder(const std::filesystem::path& folder) override;
  void write(const std::filesystem::path& path, const std::string& text) override;
  void append(const std::filesystem::path& path, const std::string& text) override;
  void cut(const std::filesystem::path& path, std::size_t bytes) override;
  void rename(const std::filesystem::path& from, const std::filesystem::path& to) override;
  void remove(const std::filesystem::path& path) override;
  void sync_folder(const std::filesystem::path& folder) override;

 private:
  /// A name that was given to a file, taken away, or both at once by renaming.
  struct Change {
    std::filesystem::path taken;  ///< empty: none
    std::filesystem::path given;  ///< empty: none
    int file = 0;
  };
  using Names = std::map<std::filesystem::path, int>;  ///< to files
  static void apply(const Change& change, Names& names);
  void begin(const std::filesystem::path& path);  ///< of an operation that changes something
  void note(Change change);
  int file_at(const std::filesystem::path& path);
  void put(const std::filesystem::path& path, int file, const std::string& after);

  simulated::Random random_;
  int operations_ = 0;
  bool dead_ = false;
  bool dies_now_ = false;
  bool fails_now_ = false;
  std::vector<std::string> files_;
  Names names_;                  ///< as programs see them
  Names synced_;                 ///< as they are on the disk for sure
  std::vector<Change> changes_;  ///< since then, by folder
};

}  // namespace lapwright::crashes
