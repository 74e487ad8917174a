#include "tuning/tune.h"

#include "tuning/rig_fault.h"
#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;

asio::awaitable<TuneResult> tune(Rig& rig, Clock& clock, const TuneOrder& order, CvLedger& ledger,
                                 TuneObserver& observer) {
  Tuner tuner(rig, clock, order, ledger, observer);
  TuneEnd end = TuneEnd::complete;
  std::string detail;
  try {
    co_await tuner.prepare_decoder();
    if (tuner.knows_the_engine()) {
      tuner.begin_with_what_is_known();
    } else {
      co_await tuner.find_engine();
      co_await tuner.probe();
      co_await tuner.adopt_settings();
    }
    co_await tuner.sweep();
    co_await tuner.finish();
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
  if (end != TuneEnd::complete && end != TuneEnd::rig_fault) {
    try {
      co_await tuner.rest();
    } catch (const RigFault& fault) {  // what ended the tune before that is not the whole story then
      end = TuneEnd::rig_fault;
      detail += std::string("; then ") + fault.what();
    }
  }
  TuneResult result = tuner.result();
  result.end = end;
  result.detail = detail;
  co_return result;
}

}  // namespace lapwright
