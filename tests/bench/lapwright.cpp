#include "tests/bench/strategies.h"
#include "tuning/tune.h"

namespace lapwright::bench {
namespace asio = boost::asio;
namespace {

class Silence : public TuneObserver {
 public:
  void phase(const std::string&) override {}
  void pass(int, Direction, double) override {}
  void settled(const CellResult&) override {}
  void progress(int, int) override {}
};

asio::awaitable<void> tune_and_put_back(World& world, const TuneOrder& order, CvLedger& ledger, TuneResult& result) {
  Silence silence;
  result = co_await tune(world.rig(), world.clock(), order, ledger, silence);
  co_await ledger.settle(world.rig());
}

}  // namespace

Outcome run_lapwright(World& world, const Stage& stage) {
  const TuneOrder order = make_order(stage, world.rig().decoder());
  CvLedger ledger;
  TuneResult result;
  world.run(tune_and_put_back(world, order, ledger, result), limit_s);
  Outcome outcome;
  outcome.complete = result.end == TuneEnd::complete;
  outcome.detail = result.detail;
  outcome.track_s = world.now_s();
  outcome.passes = result.passes;
  outcome.writes = ledger.writes();
  for (const CellResult& cell : result.cells) {
    outcome.claims.push_back(CellClaim{cell.step, cell.direction, cell.verdict});
  }
  return outcome;
}

}  // namespace lapwright::bench
