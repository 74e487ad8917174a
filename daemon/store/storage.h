// What durable files need of a disk: few operations, each of them finished when it returns, so that a test can put a
// disk in their place that loses power at any of them.
#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "daemon/store/file_lost.h"

namespace lapwright {

/// Every operation throws FileLost. A name that was made, changed or removed is on the disk only after `sync_folder`;
/// what is in a file is on the disk when the operation returns.
class Storage {
 public:
  virtual ~Storage() = default;
  /// The whole file; empty if it is not there.
  [[nodiscard]] virtual std::optional<std::string> read(const std::filesystem::path& path) = 0;
  /// Names in the folder, sorted; none if it is not there.
  [[nodiscard]] virtual std::vector<std::string> list(const std::filesystem::path& folder) = 0;
  /// With those above it, and on the disk when it returns.
  virtual void make_folder(const std::filesystem::path& folder) = 0;
  virtual void write(const std::filesystem::path& path, const std::string& text) = 0;
  /// Makes the file where it is missing.
  virtual void append(const std::filesystem::path& path, const std::string& text) = 0;
  /// Leaves its first `bytes`.
  virtual void cut(const std::filesystem::path& path, std::size_t bytes) = 0;
  virtual void rename(const std::filesystem::path& from, const std::filesystem::path& to) = 0;
  /// What is not there needs no removing.
  virtual void remove(const std::filesystem::path& path) = 0;
  virtual void sync_folder(const std::filesystem::path& folder) = 0;
};

/// Files of this machine.
class RealStorage final : public Storage {
 public:
  [[nodiscard]] std::optional<std::string> read(const std::filesystem::path& path) override;
  [[nodiscard]] std::vector<std::string> list(const std::filesystem::path& folder) override;
  void make_folder(const std::filesystem::path& folder) override;
  void write(const std::filesystem::path& path, const std::string& text) override;
  void append(const std::filesystem::path& path, const std::string& text) override;
  void cut(const std::filesystem::path& path, std::size_t bytes) override;
  void rename(const std::filesystem::path& from, const std::filesystem::path& to) override;
  void remove(const std::filesystem::path& path) override;
  void sync_folder(const std::filesystem::path& folder) override;
};

}  // namespace lapwright
