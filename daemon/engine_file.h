// What the program knows of one engine from one work to the next: one JSON document each in the state folder, for
// people too.
#pragma once

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "daemon/pages/drift.h"
#include "daemon/store/journal_line.h"
#include "daemon/store/storage.h"

namespace lapwright {

inline constexpr int engine_file_version = 1;

/// What its document tells to a job.
struct KnownEngine {
  std::filesystem::path document;
  CvValues identity;  ///< CV7 and CV8 of its decoder, where it has told them
  CvValues before;    ///< what it held before the latest work that wrote
  CvValues cvs;       ///< what it holds since then, as far as it is known
  CvValues owed;      ///< and should hold besides
  Traits traits;
  std::optional<EarlierTune> tuned;  ///< the latest tune that measured speeds
  StoredResponse response = {};      ///< and its passes
  std::string response_over;         ///< where their speed was defined, in words
};

/// One work that was done on it.
struct EngineWork {
  std::string id;  ///< the same work, told again, takes the place of the first telling
  EarlierTune told;
  CvValues cvs;   ///< what the decoder holds since, as far as it is known
  CvValues owed;  ///< and what it should hold besides
  Traits traits;
  CvValues identity = {};  ///< as told before the work; empty: not told
  CvValues before = {};
  StoredResponse response = {};
  std::string response_over = {};
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
  /// @throws FileLost  it can't be understood
  [[nodiscard]] KnownEngine known() const;
  /// What the decoder was and held before a work that came to no end of its own. @throws FileLost
  void keep_before(const CvValues& identity, const CvValues& before) const;
  /// Adds the work. Where the document can't be understood it is left alone, and the work is kept beside it.
  /// @throws FileLost  which says so
  void add(const EngineWork& work) const;

 private:
  [[nodiscard]] Record empty_document() const;

  Storage& storage_;
  std::filesystem::path path_;  ///< empty: nothing is kept
  std::string engine_;
};

}  // namespace lapwright
