#include "daemon/job_work.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/decoder_survey.h"
#include "daemon/put_back.h"
#include "daemon/restore.h"
#include "daemon/stored_response.h"
#include "tuning/cv.h"
#include "tuning/rig_fault.h"
#include "tuning/tune_stopped.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

/// Before the engine is moved for it.
void check_there_is_something_to_do(const WorkMeans& with) {
  if (with.job.work != Work::undo || !with.known.before.empty()) return;
  throw TuneStopped{TuneEnd::nothing_to_undo,
                    "what its decoder held before is not known: it has not told, or no work has written into it"};
}

asio::awaitable<void> undo_work(JobResult& result, WorkMeans with) {
  const int written =
      co_await put_back(with.rig, with.known.before, with.job.record.long_address, with.ledger, with.observer);
  result.told = fmt::format("{} of {} CVs were written: the decoder holds what it held before the latest work.",
                            written, with.known.before.size());
}

asio::awaitable<void> check_work(JobResult& result, std::optional<TuneResult>& tuned, WorkMeans with) {
  const InspectionOrder order = check_order(with.job, with.ledger, with.job.work == Work::check_all);
  if (order.steps.empty()) {
    throw TuneStopped{
        TuneEnd::no_room,
        "with the momentum in its CV3 and CV4 no step can be measured on this shuttle: there is too little "
        "track beyond the gates for it to brake and gather speed. Check it on a loop"};
  }
  TuneResult seen = co_await inspect(with.rig, with.clock, order, with.observer);
  const std::string remark = left_out_for_room(with.job, order);
  if (!remark.empty()) seen.remarks.push_back(remark);
  tuned = seen;
  if (seen.end != TuneEnd::complete) co_return;
  const CheckFinding finding = judge_check(seen, with.known.tuned);
  result.told = finding.sentence;
  result.condition = finding.condition;
}

/// Momentum and whatever else disturbs a measurement, off for its time; where nobody knows a value it stays.
asio::awaitable<void> lend_zeros(const WantedCvs& wanted, WorkMeans with) {
  for (const int number : {cv::consist_address, cv::acceleration, cv::deceleration, cv::acceleration_adjustment,
                           cv::deceleration_adjustment, cv::kick_start}) {
    const auto stated = wanted.plain.find(number);
    std::optional<std::uint8_t> held = with.ledger.known(number);
    if (stated != wanted.plain.end()) held = stated->second;
    if (held && *held != 0) co_await with.ledger.lend(with.rig, number, 0, *held);
  }
}

asio::awaitable<void> retune(JobResult& result, std::optional<TuneResult>& tuned, const std::string& why,
                             WorkMeans with) {
  TuneOrder order = with.order;
  const Traits& known = with.known.traits;
  if (!order.traits.trims_act) order.traits.trims_act = known.trims_act;
  if (!order.traits.table_scaled) order.traits.table_scaled = known.table_scaled;
  order.earlier = earlier_session(with.job, with.known);
  if (tuned) order.proof = tuned->left;
  result.work = Work::tune;
  tuned = co_await tune(with.rig, with.clock, order, with.ledger, with.observer);
  tuned->remarks.push_back("its decoder was restored first, and tuned anew because that did not hold" + why);
}

asio::awaitable<void> restore_work(JobResult& result, std::optional<TuneResult>& tuned, WorkMeans with) {
  const WantedCvs wanted = wanted_cvs(with.home, with.known);
  if (!with.order.before.empty()) {  // it was being tuned anew when it was broken off
    co_await retune(result, tuned, "", with);
    co_return;
  }
  if (with.stage != RestoreStage::proof) {
    const int before = with.ledger.writes();
    const std::vector<std::string> doubtful =
        co_await write_wanted(with.rig, wanted, with.job.record.long_address, with.ledger, with.observer);
    result.told = fmt::format("{} CVs were written. ", with.ledger.writes() - before);
    if (!doubtful.empty()) {
      result.told += fmt::format("The decoder answers, but did not confirm {}; it may not have them: see its manual. ",
                                 fmt::join(doubtful, ", "));
    }
  }
  if (with.stage == RestoreStage::at_factory_address) {
    co_await write_address(with.rig, with.home, wanted, with.ledger);
    co_return;
  }
  co_await lend_zeros(wanted, with);
  InspectionOrder order = proof_order(with.job, with.known.tuned);
  if (with.known.tuned) order.known = with.known.tuned->scales;
  order.earlier = earlier_session(with.job, with.known);
  order.all_or_nothing = true;
  const TuneResult seen = co_await inspect(with.rig, with.clock, order, with.observer);
  tuned = seen;
  if (seen.end != TuneEnd::complete) co_return;
  const CheckFinding finding = judge_check(seen, with.known.tuned);
  result.told += finding.sentence;
  result.condition = finding.condition;
  if (finding.condition == Condition::as_tuned) co_return;
  result.condition.reset();
  co_await retune(result, tuned, ": " + finding.sentence, with);
}

asio::awaitable<void> do_kind(JobResult& result, std::optional<TuneResult>& tuned, WorkMeans with) {
  switch (with.job.work) {
    case Work::tune:
      tuned = co_await tune(with.rig, with.clock, with.order, with.ledger, with.observer);
      break;
    case Work::check:
    case Work::check_all:
      co_await check_work(result, tuned, with);
      break;
    case Work::restore:
      co_await restore_work(result, tuned, with);
      break;
    case Work::undo:
      co_await undo_work(result, with);
      break;
  }
}

}  // namespace

std::set<int> allowed_cvs(const Job& job, const KnownEngine& known, const std::set<int>& of_a_tune) {
  if (only_measures(job.work)) return {};
  if (job.work == Work::restore) return cvs_of_a_restore(wanted_cvs(job.record, known));
  std::set<int> allowed = of_a_tune;
  if (job.work != Work::undo) return allowed;
  for (const auto& [number, value] : known.before) {
    if (!cv::is_address(number)) allowed.insert(number);
  }
  return allowed;
}

asio::awaitable<void> do_work(JobResult& result, std::optional<TuneResult>& tuned, WorkMeans with) {
  TuneEnd end = TuneEnd::complete;
  std::string detail;
  const Instant began = with.clock.now();
  double surveyed_s = 0;
  try {
    check_there_is_something_to_do(with);
    with.observer.phase("looking who it is");
    const bool moves_anyway = with.job.work == Work::restore && with.stage == RestoreStage::proof;
    co_await survey_decoder(with.rig, with.clock, with.job, with.known, with.allowed, with.ledger, with.book,
                            moves_anyway);
    surveyed_s = in_seconds(with.clock.now() - began);
    co_await do_kind(result, tuned, with);
  } catch (const TuneStopped& stopped) {
    end = stopped.end;
    detail = stopped.detail;
  } catch (const CvRefused& refused) {
    end = TuneEnd::cv_refused;
    detail = refused.what();
  } catch (const RigFault& fault) {
    end = TuneEnd::rig_fault;
    detail = fault.what();
  }
  if (!tuned) tuned.emplace();
  const bool went_on = !with.order.before.empty();  // then the tune's own time tells what was before the break, too
  tuned->track_s = went_on ? tuned->track_s + surveyed_s : in_seconds(with.clock.now() - began);
  if (end == TuneEnd::complete) co_return;
  tuned->end = end;
  tuned->detail = detail;
}

}  // namespace lapwright
