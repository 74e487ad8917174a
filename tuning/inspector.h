// The procedure behind an inspection: the engine goes round, or to and fro over the trap, until every step has told.
#pragma once

#include "tuning/edge_filter.h"
#include "tuning/inspection.h"
#include "tuning/motion.h"
#include "tuning/response.h"
#include "tuning/visit.h"

namespace lapwright {

class Inspector {
 public:
  Inspector(Rig& rig, Clock& clock, const InspectionOrder& order, TuneObserver& observer);

  boost::asio::awaitable<void> run();
  boost::asio::awaitable<void> come_to_rest();
  [[nodiscard]] TuneResult result() const;

 private:
  /// One step in one direction.
  struct Inspected {
    StepAim aim;
    Direction direction = Direction::forward;
    int passes = 0;
    int fruitless = 0;            ///< attempts in a row
    double chance = 0.5;          ///< that it lies in tolerance
    double chance_as_before = 0;  ///< that it is no further than that from what the earlier session has found
    Estimate estimate;
    std::optional<Observation> surprise;  ///< a pass that nobody would have expected
  };
  /// One visit of the engine to the trap, timed.
  struct Timed {
    double speed_mm_s = 0;
    bool steady = false;
    bool low_came_first = true;
  };

  boost::asio::awaitable<bool> locate();
  boost::asio::awaitable<bool> measure(Inspected& cell);
  /// Without momentum: the shortest ways, and one end of the engine is enough.
  boost::asio::awaitable<bool> measure_nimbly(Inspected& cell);
  [[nodiscard]] Inspected* next_cell();
  [[nodiscard]] Inspected* most_telling();
  void hand_to_motion(double speed_mm_s);
  boost::asio::awaitable<void> command(int step, Direction direction);
  boost::asio::awaitable<void> cross_back(const Inspected& cell);
  boost::asio::awaitable<void> go_out(const Inspected& cell);
  /// Empty: no visit came in time, or its edges contradict each other. @param known_mm_s  a head at that speed, or
  /// nearly, is enough; 0: the whole engine has to be seen
  boost::asio::awaitable<std::optional<Timed>> next_visit(double limit_s, double known_mm_s = 0);
  boost::asio::awaitable<std::optional<Timed>> next_lap(double limit_s);
  boost::asio::awaitable<void> roll(double length_s);
  [[nodiscard]] bool goes_round(const Inspected& cell) const;
  [[nodiscard]] double settle_s(int step, Direction direction) const;  ///< after a change to that step
  [[nodiscard]] double share(int step) const;                          ///< of the top step
  [[nodiscard]] bool told(const Inspected& cell) const;
  [[nodiscard]] bool is_lost() const;  ///< all or nothing, and one has surely failed
  /// Opens with what an earlier session knew, if the order tells of one: inspector_evidence.cpp
  void assume_what_is_known();
  /// False: it is not believed before it is seen again.
  bool note(Inspected& cell, double speed_mm_s, double passed_at_s);
  [[nodiscard]] bool surprises(const Inspected& cell, const Observation& pass) const;
  [[nodiscard]] bool as_before(const Inspected& cell) const;
  [[nodiscard]] Query query_of(const StepAim& aim, Direction direction) const;
  [[nodiscard]] double expected_mm_s(const StepAim& aim, Direction direction) const;
  void judge();
  [[nodiscard]] double running_s() const;
  [[nodiscard]] bool nimble() const { return order_.momentum.gather_s <= 0 && order_.momentum.brake_s <= 0; }
  [[nodiscard]] bool out_of_time() const;
  [[nodiscard]] double run_out_s(const Inspected& cell) const;  ///< inspector_room.cpp
  [[nodiscard]] CellResult report(const Inspected& cell) const;

  Rig& rig_;
  Clock& clock_;
  const InspectionOrder& order_;
  TuneObserver& observer_;
  Trap trap_;  ///< as the engine faces
  double unit_mm_s_;
  EdgeFilter filter_;
  Motion motion_;  ///< at work where it is nimble, once the engine was seen
  Response response_;
  bool trusts_earlier_ = false;  ///< today's passes agree with what the earlier session knew
  std::vector<Inspected> cells_;
  std::vector<Passed> passed_;
  TuneResult result_;
  Instant began_;
  int step_ = 0;
  Direction direction_ = Direction::forward;
  Instant settled_at_{};
  std::optional<double> located_mm_;    ///< of its forward end, from the trap's low gate, until motion takes over
  bool seen_nothing_ = false;           ///< in the latest wait for a visit
  std::optional<Instant> second_head_;  ///< when the engine's head came to the second gate
  double run_out_s_ = 1.0;              ///< beyond the trap before it is turned
  double running_s_ = 0;
  Instant running_since_{};
};

}  // namespace lapwright
