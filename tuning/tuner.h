// The tune as a procedure: its phases in order, each in a file of its own; `tune` in tune.h is the way in.
#pragma once

#include <optional>

#include "tuning/first_sight.h"
#include "tuning/motion.h"
#include "tuning/proof_sheet.h"
#include "tuning/starts.h"
#include "tuning/tune.h"
#include "tuning/tune_stopped.h"

namespace lapwright {

class Tuner {
 public:
  Tuner(Rig& rig, Clock& clock, const TuneOrder& order, CvLedger& ledger, TuneObserver& observer);

  boost::asio::awaitable<void> prepare_decoder();  ///< momentum off, a known start: tuner_prepare.cpp
  [[nodiscard]] bool knows_the_engine() const;     ///< an earlier session's response: tuner_known.cpp
  void begin_with_what_is_known();
  boost::asio::awaitable<void> find_engine();     ///< first movement, first gates: tuner_find.cpp
  boost::asio::awaitable<void> probe();           ///< ends, traits, a rough curve: tuner_probe.cpp
  boost::asio::awaitable<void> adopt_settings();  ///< trims and CV5 for the whole sheet: tuner_sweep.cpp
  boost::asio::awaitable<void> sweep();           ///< measure and correct until all is settled: tuner_sweep.cpp
  boost::asio::awaitable<void> finish();          ///< the whole table written, the engine at rest
  boost::asio::awaitable<void> rest();            ///< speed 0 and a moment to come to a stand
  [[nodiscard]] TuneResult result() const;

 private:
  // What an interrupted tune knew already is not asked of the track again: tuner_replay.cpp
  boost::asio::awaitable<PassReading> take(PassOrder pass);
  boost::asio::awaitable<Whereabouts> recover(Direction direction);
  bool sighted_before();
  void look_the_other_way(bool turned);
  boost::asio::awaitable<void> locate_again();
  boost::asio::awaitable<void> go_live();
  void leave_the_rest();
  void hear(const HeardOfTrack& what);
  [[nodiscard]] double spent_s() const;  ///< of the tune's own time
  boost::asio::awaitable<void> put(int cv, int value);
  boost::asio::awaitable<void> put_trims(int forward, int reverse);
  boost::asio::awaitable<void> put_entry(int entry);
  boost::asio::awaitable<void> put_step(int step);  ///< every entry that the step uses
  [[nodiscard]] std::optional<double> written_drive(int step, Direction direction) const;  ///< by what was put
  void refresh_book();
  void check_budget() const;
  boost::asio::awaitable<std::optional<std::uint8_t>> ask(int cv);
  boost::asio::awaitable<void> learn_momentum(int cv);
  boost::asio::awaitable<void> lend_zero(int cv);
  boost::asio::awaitable<std::optional<Passage>> nudge_until_seen();
  boost::asio::awaitable<void> first_speed(Passage first);  ///< tuner_sight.cpp
  boost::asio::awaitable<bool> first_run(Passage first);
  boost::asio::awaitable<void> find_again();
  void take_bearings(double speed_mm_s, bool low_came_first);
  boost::asio::awaitable<void> enable_table(TuneStopped unknown);  ///< thrown when CV29 is not known
  [[nodiscard]] PassOrder probe_order(int step, Direction direction, double expected, double run_up_s) const;
  boost::asio::awaitable<PassReading> probe_once(PassOrder pass);
  boost::asio::awaitable<std::optional<PassReading>> probe_pass(PassOrder pass);
  boost::asio::awaitable<bool> probe_ends();  ///< false: the engine is not where it was thought to be
  boost::asio::awaitable<void> check_settling(double forward_long, double reverse_long);
  boost::asio::awaitable<void> probe_traits();
  boost::asio::awaitable<std::optional<bool>> probe_effect(Direction direction);
  boost::asio::awaitable<void> probe_below();
  boost::asio::awaitable<void> probe_at(double speed, Direction direction);
  boost::asio::awaitable<void> measure(std::size_t place);
  boost::asio::awaitable<void> try_starts();
  boost::asio::awaitable<bool> reconsider_settings(SettingsPrice price);
  void note_reading(std::size_t place, const PassReading& reading);
  [[nodiscard]] PassOrder order_for(const Cell& cell) const;
  void observe(double drive, Direction direction, const PassReading& reading, double extra_sd);
  void note_standstill(std::size_t place, const PassOrder& pass, double drive);
  [[nodiscard]] int step_near(double speed) const;  ///< whose aim is nearest to so many units
  [[nodiscard]] CellResult report(const Cell& cell) const;
  void tell_verdicts(bool final_word);

  Rig& rig_;
  Clock& clock_;
  const TuneOrder& order_;
  CvLedger& ledger_;
  TuneObserver& observer_;
  double unit_mm_s_, run_up_s_ = 0.9, rejected_speed_ = 0;  // one model unit of speed: 1/18 of the sheet's top
  ProofSheet sheet_;
  Motion motion_;
  Trap trap_;
  Starts starts_;
  FirstSight sight_;
  Direction last_direction_ = Direction::forward;
  std::optional<std::size_t> rejected_place_;
  std::vector<Verdict> told_;
  std::vector<std::string> remarks_, unknown_;  // CVs that may disturb the work and could not be learnt
  CvValues put_;                                // what the decoder is meant to hold
  Transcript before_;
  bool replaying_, locating_ = false, silent_ = false, slow_end_considered_ = false;  // silent: not asked again
  Instant live_since_;
  int passes_ = 0, rejected_ = 0, noisy_ = 0, trim_changes_ = 0;
  std::size_t considered_at_ = 0, refitted_at_ = 0, recalled_ = 0;  // passes; recalled from earlier sessions
};

}  // namespace lapwright
