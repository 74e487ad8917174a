// Going on with a tune that was broken off: what the track told it then is taken from the transcript, without moving
// anything, until that ends; there the decoder is brought to the values that it should hold, and the engine is looked
// for. The same procedure comes to the same point by the same decisions.
#include <boost/asio/post.hpp>
#include <boost/asio/use_awaitable.hpp>

#include "tuning/tuner.h"

namespace lapwright {
namespace asio = boost::asio;

double Tuner::spent_s() const { return before_.at_s() + (replaying_ ? 0 : in_seconds(clock_.now() - live_since_)); }

void Tuner::hear(const HeardOfTrack& what) {
  if (replaying_) return;
  const double at_s = spent_s();
  observer_.heard(Heard{at_s, what});
  if (locating_) return;  // the way back to the gates takes nothing of the time that the steps may have
  before_.heard(at_s);
  live_since_ = clock_.now();
}

bool Tuner::sighted_before() {
  const Sighted* const seen = replaying_ ? before_.peek<Sighted>() : nullptr;
  if (seen == nullptr || seen->speed_mm_s <= 0) return false;  // 0: of a session that is not known any more
  before_.take<Sighted>();
  sheet_.settings().table[0] = seen->value;
  put_[cv::table_entry(1)] = static_cast<std::uint8_t>(seen->value);
  sheet_.traits().table_enabled = true;
  motion_.set_running_s(seen->running_s);
  take_bearings(seen->speed_mm_s, seen->low_came_first);
  return true;
}

asio::awaitable<PassReading> Tuner::take(PassOrder pass) {
  if (replaying_) {
    co_await asio::post(asio::use_awaitable);  // a long story must not keep the guard from looking
    while (const Located* const located = before_.take<Located>()) {
      if (located->turned) look_the_other_way(true);
    }
    const Passed* const next = before_.peek<Passed>();
    if (next != nullptr && next->step == pass.step && next->direction == pass.direction) {
      const Passed known = *before_.take<Passed>();
      motion_.set_running_s(known.running_s);
      if (known.reading.trouble == PassTrouble::noise) ++noisy_;
      co_return known.reading;
    }
    co_await locate_again();
  }
  const double drive = written_drive(pass.step, pass.direction).value_or(0);
  const PassReading reading = co_await motion_.pass(pass);
  hear(Passed{pass.step, pass.direction, drive, reading, motion_.running_s()});
  if (reading.trouble == PassTrouble::noise) ++noisy_;
  co_return reading;
}

asio::awaitable<Whereabouts> Tuner::recover(Direction direction) {
  if (!replaying_) {
    const Whereabouts found = co_await motion_.recover(direction);
    hear(Recovered{found});
    co_return found;
  }
  while (const Located* const located = before_.take<Located>()) {
    if (located->turned) look_the_other_way(true);
  }
  if (const Recovered* const known = before_.take<Recovered>()) co_return known->found;
  co_await locate_again();
  hear(Recovered{Whereabouts::beyond_the_gate});  // it was found; whether it had stalled nobody knows
  co_return Whereabouts::beyond_the_gate;
}

/// The decoder is brought to what it should hold. Nothing stands higher than before the break, when the engine ran
/// with it.
asio::awaitable<void> Tuner::go_live() {
  leave_the_rest();
  replaying_ = false;
  observer_.recalls(false);
  live_since_ = clock_.now();
  motion_.cool(order_.away_s);
  for (const auto& [number, value] : put_) co_await ledger_.write(rig_, number, value);
}

/// This program decides otherwise than the one that was broken off: it is another version, or the order was changed.
/// Passes stay what they are.
void Tuner::leave_the_rest() {
  int more = 0;
  for (const Heard& heard : before_.rest()) {
    const Passed* const known = std::get_if<Passed>(&heard.what);
    if (known == nullptr || known->reading.trouble != PassTrouble::none || known->drive <= 0) continue;
    observe(known->drive, known->direction, known->reading, 0.5 * known->reading.doubt_mm_s / unit_mm_s_);
    ++more;
  }
  if (more == 0) return;
  remarks_.push_back(std::to_string(more) +
                     " passes of the interrupted tune did not fit the course of this one; they are taken as knowledge");
}

asio::awaitable<void> Tuner::locate_again() {
  co_await go_live();
  const FirstSight sight = sight_;
  const int first_entry = sheet_.settings().table[0];
  locating_ = true;
  // Behind the trap of a shuttle there is no room to wait for the whole of a visit.
  if (trap_.times_laps() || order_.track.shape == TrackShape::shuttle) {
    observer_.phase("looking for the engine anew");
    const std::optional<Passage> first = co_await nudge_until_seen();
    if (!first) throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
    co_await first_speed(*first);
  } else {
    co_await find_again();
  }
  locating_ = false;
  observer_.phase("found; going on");
  sight_ = sight;
  co_await rest();
  sheet_.settings().table[0] = first_entry;
  co_await put_entry(1);
  refresh_book();
  live_since_ = clock_.now();
}

}  // namespace lapwright
