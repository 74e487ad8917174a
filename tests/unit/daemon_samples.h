// A small job and its result, made up, for the tests of records, reports and progress.
#pragma once

#include "daemon/job_result.h"
#include "daemon/order.h"
#include "drivers/settings/sheet_file.h"
#include "tuning/scale.h"

namespace lapwright::samples {

inline double mm_s(double smph) { return model_mm_s(smph, SpeedUnit::mph, 87.1); }

inline Job job() {
  Job job;
  job.record.name = "Bracken";
  job.record.road_number = "18";
  job.record.scale = *named_scale("HO");
  job.record.address = 18;
  job.sheet = settings::parse_sheet(R"({"name": "Two notches", "unit": "mph", "notches": [
      {"notch": "1", "step": 4, "speed": 2.5}, {"notch": "8", "step": 28, "speed": 18}]})",
                                    "sample");
  job.speed_defined = "over the trap west - east, 150.0 mm ±0.3 mm";
  return job;
}

inline CellResult cell(int step, Direction direction, double smph, Verdict verdict, Shortfall shortfall) {
  const double target = step == 4 ? 2.5 : 18;
  return {step, direction, mm_s(target), mm_s(step == 4 ? 0.1 : 0.36), mm_s(smph), mm_s(0.05), 2, verdict, shortfall};
}

inline JobResult result() {
  JobResult result;
  result.tune.cells = {
      cell(4, Direction::forward, 2.48, Verdict::proved, Shortfall::none),
      cell(4, Direction::reverse, 2.51, Verdict::proved, Shortfall::none),
      cell(28, Direction::forward, 17.2, Verdict::best_attainable, Shortfall::out_of_drive),
      cell(28, Direction::reverse, 17.9, Verdict::proved, Shortfall::none),
  };
  result.tune.traits = {true, false, std::nullopt};
  result.tune.starts = {true, std::nullopt};
  result.tune.track_s = 1294.26;
  result.tune.passes = 131;
  result.tune.rejected = 4;
  result.tune.writes = 212;
  result.cvs = {{2, 0}, {3, 28}, {66, 128}, {67, 10}, {68, 12}, {94, 240}, {95, 120}};
  result.seed = 11;
  return result;
}

}  // namespace lapwright::samples
