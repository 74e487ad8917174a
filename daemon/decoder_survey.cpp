#include "daemon/decoder_survey.h"

#include <spdlog/fmt/fmt.h>

#include "tuning/cv.h"
#include "tuning/presence.h"
#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr int asked_at_most = 3;

void compare(const Job& job, const KnownEngine& known, const CvValues& identity) {
  for (const auto& [number, value] : identity) {
    const auto recorded = known.identity.find(number);
    if (recorded == known.identity.end() || recorded->second == value) continue;
    throw TuneStopped{
        TuneEnd::other_decoder,
        fmt::format(
            "the decoder at address {} answers CV{} = {}, and that of {} had {}: this is another engine, or its "
            "decoder was changed. Nothing was written. If it is the right engine, take \"identity\" out of {}",
            job.record.address, number, value, title(job.record), recorded->second, known.document.string())};
  }
}

asio::awaitable<std::optional<std::uint8_t>> ask(Rig& rig, CvLedger& ledger, int number) {
  const std::optional<std::uint8_t> answer = co_await rig.read_cv(number);
  if (answer) ledger.found(number, *answer);
  co_return answer;
}

/// One that has answered before is asked again: a reply can be lost.
asio::awaitable<std::optional<std::uint8_t>> ask_often(Rig& rig, CvLedger& ledger, int number,
                                                       const KnownEngine& known) {
  std::optional<std::uint8_t> answer;
  const int tries = known.identity.empty() ? 1 : asked_at_most;
  for (int attempt = 0; attempt < tries && !answer; ++attempt) answer = co_await ask(rig, ledger, number);
  co_return answer;
}

/// Where another engine stands at the address, that is how it shows.
[[noreturn]] void stop_at_silence(const Job& job, const KnownEngine& known) {
  throw TuneStopped{
      TuneEnd::engine_not_found,
      fmt::format("at address {} nothing answers, and the decoder of {} did before. Nothing was written. Check its "
                  "address and its contact with the rails; if this station can't read, take \"identity\" out of {}",
                  job.record.address, title(job.record), known.document.string())};
}

/// To a decoder in a consist nothing at its own address says "run" (S-9.2.2, CV19): where the record tells of one, it
/// is left first, for the time of the work.
asio::awaitable<void> leave_consist(Rig& rig, const Job& job, CvLedger& ledger) {
  const auto stated = job.order.known_cvs.find(cv::consist_address);
  if (stated == job.order.known_cvs.end() || stated->second == 0) co_return;
  co_await ledger.lend(rig, cv::consist_address, 0, stated->second);
}

asio::awaitable<void> has_to_move(Rig& rig, Clock& clock, const Job& job) {
  const bool moves = co_await seen_to_move(rig, clock, job.order.track, job.order.mode);
  if (moves) co_return;
  throw TuneStopped{
      TuneEnd::engine_not_found,
      fmt::format("at address {} nothing answers, and no gate saw an engine move. Nothing was written. Check that {} "
                  "stands on this track, its address, that it is in no consist, and the gates",
                  job.record.address, title(job.record))};
}

}  // namespace

asio::awaitable<void> survey_decoder(Rig& rig, Clock& clock, const Job& job, const KnownEngine& known,
                                     const std::set<int>& allowed, CvLedger& ledger, JobBook& book, bool moves_anyway) {
  if (moves_anyway && known.identity.empty()) co_return;  // it was asked a moment ago, where it stood then
  CvValues identity;
  for (const int number : {cv::maker_id, cv::maker_version}) {
    const std::optional<std::uint8_t> answer = co_await ask_often(rig, ledger, number, known);
    if (!answer) break;
    identity[number] = *answer;
  }
  if (identity.empty()) {
    if (!known.identity.empty()) stop_at_silence(job, known);
    if (allowed.empty()) co_return;  // nothing will be written
    co_await leave_consist(rig, job, ledger);
    co_await has_to_move(rig, clock, job);
    co_return;
  }
  compare(job, known, identity);
  book.identified(identity);
  // What a job that goes on has written itself is not what was before it.
  if (allowed.empty() || !book.story().before.empty()) co_return;
  CvValues before;
  for (const int number : allowed) {
    const std::optional<std::uint8_t> answer = co_await ask(rig, ledger, number);
    if (answer) before[number] = *answer;
  }
  book.held_before(before);
}

}  // namespace lapwright
