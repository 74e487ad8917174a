#include "daemon/decoder_survey.h"

#include <spdlog/fmt/fmt.h>

#include "tuning/cv.h"
#include "tuning/presence.h"
#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

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
                                     const std::set<int>& allowed, CvLedger& ledger, JobBook& book) {
  CvValues identity;
  for (const int number : {cv::maker_id, cv::maker_version}) {
    const std::optional<std::uint8_t> answer = co_await ask(rig, ledger, number);
    if (!answer) break;
    identity[number] = *answer;
  }
  if (identity.empty()) {
    if (allowed.empty()) co_return;  // nothing will be written
    if (!known.identity.empty() && job.work == Work::restore) {
      throw TuneStopped{TuneEnd::engine_not_found,
                        fmt::format("at address {} nothing answers, and the decoder of {} did before. Nothing was "
                                    "written. Check its address and its contact with the rails",
                                    job.record.address, title(job.record))};
    }
    co_await leave_consist(rig, job, ledger);
    co_await has_to_move(rig, clock, job);
    co_return;
  }
  compare(job, known, identity);
  book.identified(identity);
  if (allowed.empty() || !book.story().before.empty())
    co_return;  // a job that goes on: what it has written is not what was before it
  CvValues before;
  for (const int number : allowed) {
    const std::optional<std::uint8_t> answer = co_await ask(rig, ledger, number);
    if (answer) before[number] = *answer;
  }
  book.held_before(before);
}

}  // namespace lapwright
