// What the program knows of one engine from one work to the next: one JSON document each in the state folder, for
// people too.
#pragma once

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/pages/drift.h"
#include "daemon/store/storage.h"

namespace lapwright {

inline constexpr int engine_file_version = 1;

/// One work that was done on it.
struct EngineWork {
  std::string id;  ///< the same work, told again, takes the place of the first telling
  EarlierTune told;
  CvValues cvs;   ///< what the decoder holds since, as far as it is known
  CvValues owed;  ///< and what it should hold besides
  Traits traits;
};

[[nodiscard]] EngineWork work_of(const Job& job, const JobResult& result, const std::string& id, const std::string& at);

/// "engines/fellbeck_7.json" in the state folder. What the owner has written into it stays: it is read and changed anew
/// for each work, and keys that this program does not know are kept.
class EngineFile {
 public:
  /// @param storage  outlives it. @param folder  of the state; empty: nothing is kept
  EngineFile(Storage& storage, const std::filesystem::path& folder, const EngineRecord& record);

  /// Earlier works, oldest first; none where nothing is known. @throws FileLost  it can't be understood
  [[nodiscard]] std::vector<EarlierTune> history() const;
  /// Adds the work. Where the document can't be understood it is left alone, and the work is kept beside it.
  /// @throws FileLost  which says so
  void add(const EngineWork& work) const;

 private:
  Storage& storage_;
  std::filesystem::path path_;  ///< empty: nothing is kept
  std::string engine_;
};

}  // namespace lapwright
