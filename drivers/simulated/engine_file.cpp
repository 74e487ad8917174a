#include "drivers/simulated/engine_file.h"

#include <array>
#include <string_view>

#include "drivers/settings/reader.h"
#include "tuning/cv.h"

namespace lapwright::simulated {
namespace {

using settings::IntRange;
using settings::Range;
using settings::Section;

struct ScaleDefaults {
  std::string_view name;
  double ratio;
  double volts;  // RCN-210 §5: recommended track amplitude
};
/// Proportions: NMRA S-1.2 from memory, NEM 010.
constexpr std::array<ScaleDefaults, 9> scales = {{{"Z", 220, 10},
                                                  {"N", 160, 14},
                                                  {"TT", 120, 14},
                                                  {"HO", 87.1, 15},
                                                  {"H0", 87, 15},
                                                  {"OO", 76.2, 15},
                                                  {"S", 64, 16},
                                                  {"O", 48, 16},
                                                  {"G", 22.5, 18}}};

double usual_volts(std::string_view scale) {
  for (const ScaleDefaults& known : scales) {
    if (known.name == scale) return known.volts;
  }
  return MotorDescription{}.volts;
}

void read_scale(Section& section, EngineDescription& engine) {
  engine.scale = section.text("scale", engine.scale, "the scale's name, such as HO");
  for (const ScaleDefaults& known : scales) {
    if (known.name != engine.scale) continue;
    engine.ratio = section.number("ratio", Range{1, 1000, "the proportion 1 : ratio"}, known.ratio);
    return;
  }
  engine.ratio = section.number("ratio", Range{1, 1000, "the proportion 1 : ratio, as this scale is not known"});
}

MotorDescription read_motor(Section section, std::string_view scale) {
  MotorDescription motor;
  motor.top_speed_mm_s = section.number("top_speed_mm_s", Range{20, 3000}, motor.top_speed_mm_s);
  motor.volts = section.number("volts", Range{5, 30, "track volts of the top speed"}, usual_volts(scale));
  motor.stall_current_mA = section.number("stall_current_mA", Range{50, 10000}, motor.stall_current_mA);
  motor.time_constant_s = section.number("time_constant_s", Range{0.01, 1}, motor.time_constant_s);
  motor.flywheel = section.number("flywheel", Range{0, 50, "inertia as a multiple of the rest"}, motor.flywheel);
  motor.reverse_emf = section.number("reverse_emf", Range{-0.3, 0.3, "a share"}, motor.reverse_emf);
  return motor;
}

FrictionDescription read_friction(Section section) {
  FrictionDescription friction;
  friction.running = section.number("running", Range{0, 0.4, "a share of full drive"}, friction.running);
  friction.viscous = section.number("viscous", Range{0, 0.4, "a share of full drive"}, friction.viscous);
  friction.breakaway = section.number("breakaway", Range{1, 5, "a multiple of running"}, friction.breakaway);
  friction.fade_mm_s = section.number("fade_mm_s", Range{0.1, 100}, friction.fade_mm_s);
  friction.reverse_extra = section.number("reverse_extra", Range{-0.5, 1, "a share"}, friction.reverse_extra);
  friction.wander = section.number("wander", Range{0, 0.5, "a share"}, friction.wander);
  friction.wander_s = section.number("wander_s", Range{0.2, 600}, friction.wander_s);
  friction.jolts_per_s = section.number("jolts_per_s", Range{0, 10}, friction.jolts_per_s);
  friction.jolt = section.number("jolt", Range{0, 2, "a share of running friction"}, friction.jolt);
  return friction;
}

RippleDescription read_ripple(Section section) {
  RippleDescription ripple;
  ripple.wheel_mm = section.number("wheel_mm", Range{5, 1000, "circumference of a driving wheel"}, ripple.wheel_mm);
  ripple.eccentricity = section.number("eccentricity", Range{0, 0.1, "a share"}, ripple.eccentricity);
  ripple.wheel_friction = section.number("wheel_friction", Range{0, 0.5, "a share"}, ripple.wheel_friction);
  ripple.gear_mm = section.number("gear_mm", Range{3, 200, "travel for one turn of the worm gear"}, ripple.gear_mm);
  ripple.gear_friction = section.number("gear_friction", Range{0, 0.5, "a share"}, ripple.gear_friction);
  return ripple;
}

ThermalDescription read_thermal(Section section) {
  ThermalDescription thermal;
  thermal.warm_up_s = section.number("warm_up_s", Range{10, 3600}, thermal.warm_up_s);
  thermal.motor_share = section.number("motor_share", Range{0.2, 10, "a multiple of warm_up_s"}, thermal.motor_share);
  thermal.cool_down = section.number("cool_down", Range{1, 50, "a multiple of warm_up_s"}, thermal.cool_down);
  thermal.cold_friction = section.number("cold_friction", Range{0, 2, "a share"}, thermal.cold_friction);
  thermal.resistance_rise = section.number("resistance_rise", Range{0, 0.5, "a share"}, thermal.resistance_rise);
  thermal.magnet_fade = section.number("magnet_fade", Range{0, 0.2, "a share"}, thermal.magnet_fade);
  return thermal;
}

DecoderDescription read_decoder(Section section, EngineGroup group) {
  DecoderDescription decoder;
  decoder.table_scaled = section.flag("table_scaled", decoder.table_scaled);
  decoder.trims_act = section.flag("trims_act", group != EngineGroup::coarse);
  decoder.table_implemented = section.flag("table_implemented", decoder.table_implemented);
  decoder.drive_bits = section.integer("drive_bits", IntRange{8, 10}, group == EngineGroup::coarse ? 8 : 10);
  decoder.drive_cut_off = section.flag("drive_cut_off", decoder.drive_cut_off);
  decoder.regulated = section.flag("regulated", group != EngineGroup::open_loop);
  decoder.regulation = section.number("regulation", Range{0, 1, "a share"}, decoder.regulation);
  decoder.answers_reads = section.flag("answers_reads", decoder.answers_reads);
  decoder.bit_writes = section.flag("bit_writes", decoder.bit_writes);
  decoder.address_writes = section.flag("address_writes", decoder.address_writes);
  return decoder;
}

void read_body(Section& section, EngineDescription& engine) {
  engine.length_mm = section.number("length_mm", Range{20, 2000}, engine.length_mm);
  double free_from_mm = 0;
  for (Section part : section.sections("silhouette")) {
    const Range within{free_from_mm, engine.length_mm, "parts in order, behind the forward end"};
    const double from_mm = part.number("from_mm", within);
    const double to_mm = part.number("to_mm", within);
    if (to_mm <= from_mm) part.complain("to_mm", "the part ends before it begins; give to_mm larger than from_mm");
    engine.silhouette.push_back(OpaquePart{from_mm, to_mm});
    free_from_mm = to_mm;
  }
}

void read_cvs(Section& section, EngineDescription& engine) {
  const auto values = section.integer_map("cvs", settings::KeyRule{"CV", 1, 256}, IntRange{0, 255});
  for (const auto& [number, value] : values) {
    if (number == cv::address || number == 17 || number == 18) {
      section.complain("cvs", "CV" + std::to_string(number) + " is the address; give it as \"address\" instead");
    }
    engine.decoder.cvs[number] = static_cast<std::uint8_t>(value);
  }
}

}  // namespace

EngineDescription read_engine(Section section) {
  EngineDescription engine;
  engine.name = section.text("name", {}, "what its owner calls the engine");
  engine.road_number = section.text("road_number", std::string());
  section.text("notes", std::string());  // for people only
  read_scale(section, engine);
  engine.group = section.word<EngineGroup>(
      "group",
      {{"regulated", EngineGroup::regulated}, {"open_loop", EngineGroup::open_loop}, {"coarse", EngineGroup::coarse}},
      engine.group);
  engine.address = section.integer("address", IntRange{1, 10239, "up to 127 short, above long"}, engine.address);
  read_body(section, engine);
  engine.motor = read_motor(section.section_or_defaults("motor"), engine.scale);
  engine.friction = read_friction(section.section_or_defaults("friction"));
  engine.ripple = read_ripple(section.section_or_defaults("ripple"));
  engine.thermal = read_thermal(section.section_or_defaults("thermal"));
  engine.decoder = read_decoder(section.section_or_defaults("decoder"), engine.group);
  read_cvs(section, engine);
  return engine;
}

EngineDescription load_engine(const std::filesystem::path& path) {
  settings::Document document = settings::load_file(path);
  EngineDescription engine = read_engine(document.root());
  document.finish();
  return engine;
}

}  // namespace lapwright::simulated
