// First movement: raise the drive until a gate sees the engine; what it learns there is in tuner_sight.cpp.
#include <algorithm>
#include <array>
#include <cmath>

#include "tuning/tuner.h"
#include "tuning/visit.h"

namespace lapwright {
namespace asio = boost::asio;
namespace {

constexpr double first_value = 20;
constexpr double slow_rise = 1.03;  // each second
constexpr double slow_from = 100;
constexpr int rounds_at_most = 4;
constexpr double search_units = 18;         // the top of the sheet: once around a loop takes long
constexpr double careful_search_units = 4;  // buffers are near
constexpr std::size_t passes_to_search_by = 4;

/// Table value that should let it run at that speed, by what is known of it; 0: too little is.
double search_value(const ProofSheet& sheet, double units) {
  if (sheet.response().size() < passes_to_search_by) return 0;
  const RisingCurve curve(sheet.response(), Direction::forward);
  return value_of_drive(sheet.traits(), sheet.settings(), curve.drive(units), Direction::forward);
}

}  // namespace

asio::awaitable<void> Tuner::find_engine() {
  observer_.phase("looking for the engine");
  sight_.remarks_before = remarks_.size();
  if (sighted_before()) co_return;
  if (replaying_) co_await go_live();
  std::optional<Passage> first = co_await nudge_until_seen();
  if (!first) {
    TuneStopped unknown{TuneEnd::engine_not_found,
                        "no gate saw the engine move. Either it does not stand on this track before the first gate, or "
                        "its speed table is off and the decoder does not take the bit write to CV29: add the decoder's "
                        "CV29 to the engine's record, or set bit 4 (value 16) by hand"};
    co_await enable_table(std::move(unknown));
    first = co_await nudge_until_seen();
  }
  if (!first) {
    throw TuneStopped{TuneEnd::engine_not_found,
                      "no gate saw the engine move. Check that it stands on this track before the first gate, its "
                      "address, that it is in no consist, and the gates"};
  }
  sheet_.traits().table_enabled = true;
  co_await first_speed(*first);
}

asio::awaitable<std::optional<Passage>> Tuner::nudge_until_seen() {
  const bool loop = order_.track.shape == TrackShape::loop;
  const double known_value = search_value(sheet_, loop ? search_units : careful_search_units);
  double value = std::clamp(known_value, first_value, 255.0);
  int& entry = sheet_.settings().table[0];
  double waited_s = 0;
  co_await motion_.roll(0);  // what the gates saw before it was commanded: a hand, its way back from another look
  // Long enough to come around at a walking pace, should it have been set down behind the gates.
  const double patience_s = 25 + order_.track.length_mm / (0.3 * 18 * unit_mm_s_);
  while (waited_s < patience_s) {
    entry = static_cast<int>(std::lround(value));
    co_await put_entry(1);
    co_await motion_.command(find_step, Direction::forward, 0);
    const Instant until = clock_.now() + std::chrono::seconds(1);
    for (;;) {
      const std::optional<Passage> passage = co_await motion_.next_passage(until);
      if (!passage) break;
      if (passage->blocked) co_return passage;
    }
    waited_s += 1.1;
    value = std::max(value, std::min(value * (value < slow_from ? find_rise : slow_rise), highest_find_value));
    check_budget();
  }
  co_await rest();
  co_return std::nullopt;
}

asio::awaitable<void> Tuner::enable_table(TuneStopped unknown) {
  const auto stated = order_.known_cvs.find(cv::configuration);
  std::optional<std::uint8_t> held;
  if (stated != order_.known_cvs.end()) held = stated->second;
  if (!held) held = co_await rig_.read_cv(cv::configuration);
  if (!held) throw unknown;
  constexpr int table_bit_value = 1 << cv::table_bit;
  bool refused = false;
  try {
    co_await ledger_.write(rig_, cv::configuration, static_cast<std::uint8_t>(*held | table_bit_value));
  } catch (const CvRefused&) {  // the decoder answers with the bit still clear: it has no table
    refused = true;
  }
  if (!refused) {
    const std::optional<std::uint8_t> answer = co_await rig_.read_cv(cv::configuration);
    refused = answer && (*answer & table_bit_value) == 0;
  }
  if (!refused) co_return;
  throw TuneStopped{TuneEnd::table_not_enabled,
                    "the decoder does not let CV29 bit 4 be set: it has no speed table that could be tuned"};
}

asio::awaitable<void> Tuner::find_again() {
  observer_.phase("looking for the engine anew");
  if (sighted_before()) co_return;
  if (replaying_) co_await go_live();
  const std::optional<Passage> first = co_await nudge_until_seen();
  if (!first) throw TuneStopped{TuneEnd::position_lost, "the engine is not seen at the gates any more"};
  for (int round = 0; round < rounds_at_most; ++round) {
    Visit visit(trap_);
    if (round == 0) visit.feed(*first);
    // A lap at the slowest speed that the first search may have ended with.
    const Instant until = clock_.now() + seconds(order_.track.length_mm / (slowest_find_share * 18 * unit_mm_s_));
    Instant quiet = visit.begun() ? clock_.now() + seconds(visit.quiet_s()) : until;
    for (;;) {
      const std::optional<Passage> passage = co_await motion_.next_passage(quiet);
      if (!passage) break;
      visit.feed(*passage);
      quiet = clock_.now() + seconds(visit.quiet_s());
    }
    if (!visit.begun()) break;
    const std::optional<Visit::Finding> finding = visit.finding();
    if (!finding) continue;
    take_bearings(finding->speed_mm_s, finding->low_came_first);
    motion_.set_position(trap_.base_mm + finding->speed_mm_s * visit.since_s(*finding));
    co_await motion_.command(find_step, Direction::forward, finding->speed_mm_s);
    co_return;
  }
  throw TuneStopped{TuneEnd::position_lost,
                    "the gates contradict each other about where the engine is. Check that no edges are missing: clean "
                    "the sensors, and look for gaps in the engine at their height"};
}

/// The engine faces the other way: places count from its side.
void Tuner::look_the_other_way(bool turned) {
  std::swap(trap_.low_gate, trap_.high_gate);
  const bool against = trap_.low_gate != order_.trap.low_gate;
  remarks_.push_back(std::string(turned ? "the engine was turned round meanwhile"
                                        : "the engine faces against the order of the gates") +
                     ": forward is towards gate '" +
                     order_.track.gates[static_cast<std::size_t>(trap_.high_gate)].name + "'");
  motion_.use_trap(trap_);
  motion_.set_limits(against ? order_.clear_above_mm : order_.clear_below_mm,
                     against ? order_.clear_below_mm : order_.clear_above_mm);
}

void Tuner::take_bearings(double speed_mm_s, bool low_came_first) {
  if (locating_) {
    hear(Located{!low_came_first});
    before_.located();
  } else {
    hear(Sighted{sheet_.settings().table[0], speed_mm_s, low_came_first, motion_.running_s()});
  }
  if (!low_came_first) look_the_other_way(locating_);
  sight_.speed = speed_mm_s / unit_mm_s_;
  sight_.drive = sheet_.drive_at(find_step, Direction::forward);
  motion_.set_position(trap_.times_laps() ? 0.0 : trap_.base_mm);
}

}  // namespace lapwright
