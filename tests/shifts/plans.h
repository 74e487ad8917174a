// The nights that the tests of this folder set up: tracks, sheets and invented engines.
#pragma once

#include <cstdint>
#include <initializer_list>
#include <string>
#include <vector>

#include "tests/shifts/night.h"
#include "tuning/target_sheet.h"

namespace lapwright::shifts {

/// An engine of the Quillmoor & Tarn Light Railway from configs/engines, by file name without ".json".
[[nodiscard]] simulated::EngineDescription from_shed(const std::string& file);
/// A plain regulated H0 engine with some momentum, made here so that tests of traits don't hang on a file.
[[nodiscard]] simulated::EngineDescription plain_engine();

/// Wanted speeds of a sheet on this engine's rails.
[[nodiscard]] std::vector<StepAim> aims_of(const TargetSheet& sheet, double ratio);
/// 1 … 18 smph over 28 steps, tolerance max(0.1 smph, 2 %): a slow-freight sheet (common practice, no source).
[[nodiscard]] TargetSheet slow_freight();

/// The engine stands cold 400 … 600 mm before the first gate; the tuner is told the track and the CVs that an owner has
/// in the engine's record.
[[nodiscard]] Plan loop_night(const simulated::EngineDescription& engine, std::uint64_t seed);
[[nodiscard]] Plan shuttle_night(const simulated::EngineDescription& engine, std::uint64_t seed);
/// One gate on a small loop; laps are timed.
[[nodiscard]] Plan lap_night(const simulated::EngineDescription& engine, std::uint64_t seed);
/// The same order for another engine or for CVs changed by hand: tells the tuner anew what the record says.
void tell_record(Plan& plan, std::initializer_list<int> cvs);

/// Under the sanitizers, where everything takes fifteen times as long.
[[nodiscard]] bool slow_run();
/// `count` seeds from `first`; one alone in a sanitizer's slow run.
[[nodiscard]] std::vector<std::uint64_t> seeds(std::uint64_t first, int count);

}  // namespace lapwright::shifts
