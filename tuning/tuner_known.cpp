// A tune that need not begin from nothing: settings that an earlier session has found stand in the decoder, and a proof
// of a few of them has not held. That session's passes, and the proof's, are what the first probes would have told.
#include "tuning/tuner.h"

namespace lapwright {
namespace {

CvValues cvs_of(const DriveSettings& settings) {
  CvValues result;
  const auto hold = [&result](int number, int value) { result[number] = static_cast<std::uint8_t>(value); };
  hold(cv::start_voltage, settings.start_voltage);
  hold(cv::top_voltage, settings.top_voltage);
  hold(cv::forward_trim, settings.trim[0]);
  hold(cv::reverse_trim, settings.trim[1]);
  for (int entry = 1; entry <= cv::table_entries; ++entry) {
    hold(cv::table_entry(entry), settings.table[static_cast<std::size_t>(entry - 1)]);
  }
  return result;
}

}  // namespace

bool Tuner::knows_the_engine() const {
  if (!order_.earlier) return false;
  if (!replaying_) return order_.proof.has_value();
  const Sighted* const seen = before_.peek<Sighted>();
  return seen != nullptr && seen->speed_mm_s <= 0;
}

void Tuner::begin_with_what_is_known() {
  observer_.phase("going on from what an earlier tune has told");
  const EarlierSession& earlier = *order_.earlier;
  sheet_.traits() = earlier.traits;
  sheet_.traits().table_enabled = true;
  sheet_.adopt(earlier.settings);
  sheet_.rely_on_earlier();
  put_ = cvs_of(earlier.settings);  // they stand there; only a tune that goes on after a break writes them anew
  run_up_s_ = earlier.response.run_up_s;
  sheet_.response().assume(earlier.scales);
  for (const Observation& pass : earlier.response.passes) sheet_.response().add(pass);
  recalled_ = earlier.response.passes.size();
  std::vector<Passed> seen;
  if (replaying_) {
    const Sighted stood = *before_.take<Sighted>();
    if (!stood.low_came_first) look_the_other_way(false);
    while (const Passed* const pass = before_.peek<Passed>()) {
      if (!pass->of_proof) break;
      seen.push_back(*before_.take<Passed>());
    }
  } else {
    const ProofLeft& proof = *order_.proof;
    hear(Sighted{earlier.settings.table[0], 0, proof.low_came_first, 0});
    if (!proof.low_came_first) look_the_other_way(false);
    motion_.set_position(proof.at_mm);
    seen = proof.passes;
    for (const Passed& pass : seen) hear(pass);
  }
  for (const Passed& pass : seen) {
    observe(pass.drive, pass.direction, pass.reading, 0);
    motion_.set_running_s(pass.running_s);
    last_direction_ = pass.direction;
    ++passes_;
  }
  sheet_.response().refit();
  sheet_.judge();
  slow_end_considered_ = true;  // by that tune
  refitted_at_ = considered_at_ = sheet_.response().size();
  refresh_book();
}

}  // namespace lapwright
