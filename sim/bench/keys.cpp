#include "sim/bench/keys.hpp"

#include <array>
#include <cstdio>
#include <optional>

#include "sim/bench/names.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

constexpr double whole = 4294967295.0;                     // counts fit 32 bits on the wire
constexpr double oil_coldest = -20.0, oil_warmest = 80.0;  // degC
constexpr double most_air = 0.2;

#define QUANTITY(name, dim, field, low, high, help)                                                        \
  Key {                                                                                                    \
    name, KeyKind::quantity, Dimension::dim, [](Scenario& s) -> double& { return s.field; }, nullptr, low, \
        high, help                                                                                         \
  }
#define COUNT(name, field, low, high, help)                                                               \
  Key {                                                                                                   \
    name, KeyKind::count, Dimension::ratio, [](Scenario& s) -> double& { return s.field; }, nullptr, low, \
        high, help                                                                                        \
  }
#define TEXT(name, field, help)                                                                             \
  Key {                                                                                                     \
    name, KeyKind::text, Dimension::ratio, nullptr, [](Scenario& s) -> std::string& { return s.field; }, 0, \
        0, help                                                                                             \
  }

constexpr std::array keys{
    TEXT("name", name, "name of the scenario"),
    QUANTITY("time_limit", time, time_limit, 1.0, 86400.0, "longest virtual time"),
    COUNT("first_tick", first_tick, 0.0, whole, "tick counter at the start; near 4294967295 it wraps"),
    TEXT("strand.name", strand.name, "size and grade"),
    QUANTITY("strand.area", area, strand.area, 1e-6, 1e-3, "steel area"),
    QUANTITY("strand.modulus", pressure, strand.modulus, 1e10, 3e11, "modulus of elasticity"),
    QUANTITY("strand.breaking_force", force, strand.breaking_force, 1e3, 1e6, "F_m or F_pu"),
    QUANTITY("strand.proof_force", force, strand.proof_force, 1e3, 1e6, "F_p0.1"),
    QUANTITY("strand.force_at_1_percent", force, strand.force_at_1_percent, 0.0, 1e6,
             "at 1 % strain, of the reel's mill certificate; 0 N: 92.5 % of the breaking force"),
    QUANTITY("strand.ultimate_strain", ratio, strand.ultimate_strain, 0.02, 0.15, "of the mill certificate"),
    QUANTITY("strand.length", length, strand.length, 1.0, 400.0, "chuck to chuck"),
    QUANTITY("strand.tail", length, strand.tail, 0.1, 10.0, "chuck to jack grip"),
    QUANTITY("strand.slack", length, strand.slack, 0.0, 1.0, "ram travel until the strand is straight"),
    QUANTITY("strand.warming", temperature, strand.warming, -30.0, 30.0,
             "by which it warms in a minute; negative: cools"),
    TEXT("bed.name", bed.name, "name of the bed"),
    COUNT("bed.number", bed.number, 1.0, whole, "number of the bed"),
    COUNT("bed.position", bed.position, 1.0, whole, "of the strand in the bed"),
    COUNT("bed.reel", bed.reel, 0.0, whole, "reel number"),
    QUANTITY("bed.abutment_stiffness", stiffness, bed.abutment_stiffness, 1e6, 1e12, "both ends in series"),
    QUANTITY("bed.draw_in", length, bed.draw_in, 0.0, 0.03, "live end, drawn in by the strand alone"),
    QUANTITY("bed.draw_in_pushed", length, bed.draw_in_pushed, 0.0, 0.03, "live end, after the seating tube"),
    QUANTITY("bed.dead_draw_in", length, bed.dead_draw_in, 0.0, 0.03, "dead end"),
    QUANTITY("bed.friction", ratio, bed.friction, 0.0, 2.0, "of the strand on it, of the strand's weight"),
    COUNT("jack.serial", jack.serial, 1.0, whole, "serial number"),
    QUANTITY("jack.area", area, jack.area, 5e-4, 5e-2, "advance side"),
    QUANTITY("jack.rod_area", area, jack.rod_area, 1e-4, 5e-2, "retract side"),
    QUANTITY("jack.stroke", length, jack.stroke, 0.05, 2.0, "to the end stop"),
    QUANTITY("jack.stroke_usable", length, jack.stroke_usable, 0.05, 2.0, "no pull may pass it"),
    QUANTITY("jack.grip_draw_in", length, jack.grip_draw_in, 0.0, 0.05,
             "of a re-stroke, until the grip holds the strand"),
    QUANTITY("jack.friction", ratio, jack.friction, 0.0, 0.2, "of the force, at every pressure"),
    QUANTITY("jack.seal_force", force, jack.seal_force, 0.0, 5e3, "constant part of the friction"),
    QUANTITY("jack.friction_scatter", ratio, jack.friction_scatter, -0.5, 0.5,
             "of the friction itself, this pull"),
    QUANTITY("jack.pressure_limit", pressure, jack.pressure_limit, 1e6, 2e8, "raw limit of the frame"),
    QUANTITY("jack.rig_rating", pressure, jack.rig_rating, 1e6, 2e8, "cap of the rig mode"),
    QUANTITY("oil.bulk_modulus", pressure, oil.bulk_modulus, 1e8, 5e9, "free of air"),
    QUANTITY("oil.air", ratio, oil.air, 0.0, most_air, "volume fraction at 1 atm"),
    QUANTITY("oil.dead_volume", volume, oil.dead_volume, 1e-6, 1e-2, "of the jack"),
    QUANTITY("oil.hose_volume", volume, oil.hose_volume, 1e-6, 1e-2, "of the hose"),
    QUANTITY("oil.temperature", temperature, oil.temperature, oil_coldest, oil_warmest, "of the oil"),
    COUNT("oil.grade", oil.grade, 32.0, 68.0, "ISO VG: with the temperature it gives the viscosity"),
    QUANTITY("oil.warming", temperature, oil.warming, -30.0, 30.0, "by which it warms in a minute"),
    QUANTITY("oil.leak", flow, oil.leak, 0.0, 1e-5, "past the load-holding valve at 30 MPa"),
    QUANTITY("valves.delay", time, valves.delay, 0.0, 0.5, "switching delay"),
    QUANTITY("valves.lag", time, valves.lag, 0.0005, 0.5, "lag of the spool"),
    QUANTITY("pump.fast_flow", flow, pump.fast_flow, 1e-7, 1e-3, "fast stage on"),
    QUANTITY("pump.slow_flow", flow, pump.slow_flow, 1e-7, 1e-3, "fast stage off"),
    QUANTITY("pump.scale", ratio, pump.scale, 0.1, 3.0, "of both flows; 100 % is as listed"),
    QUANTITY("pump.slip", flow, pump.slip, 0.0, 1e-4, "back through the turning pump, at 30 MPa"),
    QUANTITY("pump.relief", pressure, pump.relief, 1e6, 2e8, "relief valve"),
    COUNT("sensors.sensor_a_serial", sensors.sensor_a_serial, 1.0, whole, "serial number"),
    COUNT("sensors.sensor_b_serial", sensors.sensor_b_serial, 1.0, whole, "serial number"),
    COUNT("sensors.stroke_serial", sensors.stroke_serial, 1.0, whole, "serial number"),
    QUANTITY("sensors.pressure_span", pressure, sensors.pressure_span, 1e6, 3e8, "at 20 mA"),
    QUANTITY("sensors.stroke_span", length, sensors.stroke_span, 0.05, 3.0, "at 20 mA"),
    QUANTITY("sensors.cell_span", force, sensors.cell_span, 1e3, 5e6, "reference cell of the rig, at 20 mA"),
    QUANTITY("sensors.noise", ratio, sensors.noise, 0.0, 0.05,
             "standard deviation of a pressure sample, of span"),
    QUANTITY("sensors.stroke_noise", ratio, sensors.stroke_noise, 0.0, 0.05, "of span"),
    QUANTITY("sensors.cell_noise", ratio, sensors.cell_noise, 0.0, 0.05, "of span"),
    QUANTITY("sensors.gain_a", ratio, sensors.gain_a, -0.2, 0.2, "gain error of pressure A"),
    QUANTITY("sensors.gain_b", ratio, sensors.gain_b, -0.2, 0.2, "gain error of pressure B"),
    COUNT("instruction.id", plan.id, 1.0, whole, "number of the instruction"),
    QUANTITY("instruction.initial_force", force, plan.initial, 0.0, 1e6, "datum is taken at it"),
    QUANTITY("instruction.jack_force", force, plan.jack_force, 0.0, 1e6, "the stop aims at it"),
    QUANTITY("instruction.seated_force", force, plan.seated, 0.0, 1e6,
             "0 N: jack force less the draw-in's loss"),
    QUANTITY("instruction.limit", force, plan.limit, 0.0, 1e6,
             "0 N: the smaller of 0.8 F_m and 0.9 F_p0.1, less 2 %"),
    QUANTITY("instruction.stiffness", stiffness, plan.stiffness, 0.0, 1e9,
             "0 N/m: from strand, tail and abutments"),
    QUANTITY("instruction.elongation", length, plan.elongation, 0.0, 3.0, "0 m: planned"),
    QUANTITY("instruction.window", ratio, plan.window, 0.001, 0.1, "of elongation and of locked force"),
    QUANTITY("instruction.window_floor", length, plan.window_floor, 0.0, 0.1,
             "least window of the elongation"),
    QUANTITY("instruction.slack_max", length, plan.slack_max, 0.0, 1.0,
             "0 m: planned, with a margin of 25 mm"),
    QUANTITY("rig.stiffness", stiffness, rig.stiffness, 1e5, 1e9, "of the spring pack"),
    QUANTITY("rig.top", force, rig.top, 1e3, 5e6, "highest set point"),
    COUNT("rig.points", rig.points, 5.0, 20.0, "set points of a run"),
    COUNT("rig.runs", rig.runs, 1.0, 9.0, "increasing runs; one decreasing run follows the last"),
    COUNT("rig.revision", rig.revision, 1.0, whole, "of the table made from the runs"),
};

#undef QUANTITY
#undef COUNT
#undef TEXT

std::string shortest(double value, int digits = 6) {
  std::array<char, 32> text{};
  std::snprintf(text.data(), text.size(), "%.*g", digits, value);
  return text.data();
}

constexpr std::array<std::string_view, 12> si_units{"Pa",  "N", "m",    "m2", "m3", "m3/s",
                                                    "N/m", "s", "degC", "",   "kg", "m/s"};

std::string quantity_text(Dimension dimension, double value, int digits = 6) {
  switch (dimension) {
    case Dimension::pressure:
      return shortest(1e-6 * value, digits) + " MPa";
    case Dimension::force:
      return shortest(1e-3 * value, digits) + " kN";
    case Dimension::length:
      return shortest(1e3 * value, digits) + " mm";
    case Dimension::area:
      return shortest(1e4 * value, digits) + " cm2";
    case Dimension::volume:
      return shortest(1e3 * value, digits) + " L";
    case Dimension::flow:
      return shortest(60e3 * value, digits) + " L/min";
    case Dimension::stiffness:
      return shortest(1e-3 * value, digits) + " N/mm";
    case Dimension::time:
      return shortest(1e3 * value, digits) + " ms";
    case Dimension::ratio:
      return shortest(1e2 * value, digits) + " %";
    case Dimension::temperature:
    case Dimension::mass:
    case Dimension::speed:
      break;
  }
  const std::string_view unit = si_units[static_cast<std::size_t>(dimension)];
  return shortest(value, digits) + " " + std::string(unit);
}

// What a size may be, where the kind has a bound of its own.
struct SizeBound {
  fault::Effect effect;
  double low, high;
  const char* what;
};
constexpr SizeBound size_bounds[] = {
    {fault::Effect::cools, oil_coldest, oil_warmest, "is no temperature of this oil; write -20 to 80 degC"},
    {fault::Effect::aerates, 0.0, most_air, "is more air than oil holds; write at most 20 %"},
    {fault::Effect::drags, 0.0, 0.99, "leaves no tick; write at most 99 %"},
    {fault::Effect::snags, 0.0, 1.0, "is more than the whole strand; write at most 100 %"},
    {fault::Effect::floods, 0.0, 10'000.0, "is more than any line brings; write at most 10000"},
};

// What a size is measured in; nothing for a plain number, and for a fault that has no size.
std::optional<Dimension> dimension_of(fault::Measure measure) {
  switch (measure) {
    case fault::Measure::share:
      return Dimension::ratio;
    case fault::Measure::length:
      return Dimension::length;
    case fault::Measure::time:
      return Dimension::time;
    case fault::Measure::pressure:
      return Dimension::pressure;
    case fault::Measure::flow:
      return Dimension::flow;
    case fault::Measure::temperature:
      return Dimension::temperature;
    case fault::Measure::count:
    case fault::Measure::none:
      break;
  }
  return std::nullopt;
}

}  // namespace

std::span<const Key> scenario_keys() {
  return keys;
}

const Key* find_key(std::string_view name) {
  for (const Key& key : keys) {
    if (key.name == name) {
      return &key;
    }
  }
  return nullptr;
}

std::vector<std::string_view> key_names() {
  std::vector<std::string_view> names{"seed", "operator", "fault", "jack_file"};
  for (const Key& key : keys) {
    names.push_back(key.name);
  }
  return names;
}

std::vector<std::string_view> section_names() {
  std::vector<std::string_view> names;
  for (const Key& key : keys) {
    const std::string_view section = key.name.substr(0, key.name.find('.'));
    if (section != key.name && (names.empty() || names.back() != section)) {
      names.push_back(section);
    }
  }
  return names;
}

bool belongs_to_jack(const Key& key) {
  const auto of = [&](std::string_view section) { return key.name.starts_with(section); };
  return key.kind != KeyKind::text && key.name != "jack.friction_scatter" && key.name != "oil.warming" &&
         (of("jack.") || of("oil.") || of("valves.") || of("pump.") || of("sensors.") ||
          key.name == "rig.stiffness");
}

std::vector<std::string_view> jack_key_names() {
  std::vector<std::string_view> names;
  for (const Key& key : keys) {
    if (belongs_to_jack(key)) {
      names.push_back(key.name);
    }
  }
  return names;
}

std::string value_text(const Key& key, double value, int digits) {
  return key.kind == KeyKind::quantity ? quantity_text(key.dimension, value, digits)
                                       : shortest(value, digits);
}

std::string_view si_unit(const Key& key) {
  return key.kind == KeyKind::quantity ? si_units[static_cast<std::size_t>(key.dimension)] : "";
}

void put_number(Scenario& scenario, const Key& key, double value) {
  const std::string unit(si_unit(key));
  if (!(value >= key.low && value <= key.high)) {
    throw UnitError(std::string(key.name) + " is " + shortest(value) + " " + unit + ", allowed is " +
                    shortest(key.low) + " to " + shortest(key.high) + " " + unit);
  }
  if (key.kind == KeyKind::count && value != static_cast<double>(static_cast<std::uint64_t>(value))) {
    throw UnitError(std::string(key.name) + " is " + shortest(value) + "; write a whole number");
  }
  key.value(scenario) = value;
}

void put_quantity(Scenario& scenario, const Key& key, std::string_view text) {
  put_number(scenario, key, parse_quantity(text, key.dimension));
}

fault::Trigger parse_trigger(std::string_view text) {
  constexpr std::string_view state_word = "state ";
  if (text.starts_with(state_word)) {
    const std::string_view name = text.substr(state_word.size());
    const auto number = state_number(name);
    if (!number) {
      throw UnitError("\"" + std::string(name) + "\" is no state of the controller; did you mean \"" +
                      std::string(nearest(name, state_names())) + "\"?");
    }
    return {fault::By::state, static_cast<double>(*number)};
  }
  const std::array<std::pair<Dimension, fault::By>, 3> ways{{{Dimension::time, fault::By::time},
                                                             {Dimension::force, fault::By::force},
                                                             {Dimension::length, fault::By::stroke}}};
  for (const auto& [dimension, by] : ways) {
    try {
      return {by, parse_quantity(text, dimension)};
    } catch (const UnitError&) {
      // perhaps another dimension; if none fits, the message below names all of them
    }
  }
  throw UnitError("\"" + std::string(text) +
                  "\" is not when a fault can begin; write a time (\"12 s\"), a force (\"78 kN\"), a "
                  "stroke (\"300 mm\") or a state (\"state settle\")");
}

double parse_size(const fault::Row& row, std::string_view text) {
  if (row.measure == fault::Measure::none) {
    throw UnitError(std::string(row.name) + " has no size; leave it out");
  }
  const auto dimension = dimension_of(row.measure);
  const double size = dimension ? parse_quantity(text, *dimension) : parse_number(text);
  const bool wires = row.effect == fault::Effect::loses_wires;
  const bool signed_size = row.effect == fault::Effect::gain || row.effect == fault::Effect::offset ||
                           row.effect == fault::Effect::drift || row.effect == fault::Effect::cools;
  for (const SizeBound& bound : size_bounds) {
    if (row.effect == bound.effect && !(size >= bound.low && size <= bound.high)) {
      throw UnitError("\"" + std::string(text) + "\" " + bound.what);
    }
  }
  if ((!signed_size && !(size > 0.0)) ||
      (wires && (size > 6.0 || size != static_cast<double>(static_cast<unsigned>(size))))) {
    throw UnitError("\"" + std::string(text) + "\" is no size of " + std::string(row.name) +
                    (wires ? "; write 1 to 6 wires" : "; write one above zero"));
  }
  return size;
}

double parse_place(const fault::Row& row, std::string_view text) {
  if (row.place != fault::Place::strand) {
    throw UnitError(std::string(row.name) + " is not along the strand; leave from_live_end out");
  }
  const double place = parse_quantity(text, Dimension::length);
  if (!(place >= 0.0)) {
    throw UnitError("\"" + std::string(text) + "\" lies behind the live end; write 0 m or more");
  }
  return place;
}

std::string size_text(const fault::Row& row, double size) {
  if (row.measure == fault::Measure::none) {
    return "";
  }
  const auto dimension = dimension_of(row.measure);
  return dimension ? quantity_text(*dimension, size) : shortest(size);
}

const fault::Row& fault_row(std::string_view name) {
  if (const fault::Row* row = fault::find(name)) {
    return *row;
  }
  throw UnitError("unknown fault \"" + std::string(name) + "\"; did you mean \"" +
                  std::string(nearest(name, fault::names())) + "\"?");
}

std::string describe_keys() {
  Scenario defaults;
  std::string text;
  for (const Key& key : keys) {
    text += std::string(key.name) + ": " + std::string(key.help);
    if (key.kind == KeyKind::text) {
      text += " [\"" + key.text(defaults) + "\"]";
    } else if (key.kind == KeyKind::quantity) {
      const std::string_view unit = si_units[static_cast<std::size_t>(key.dimension)];
      text += "; in " + units_of(key.dimension) + " [" + shortest(key.value(defaults)) +
              (unit.empty() ? " of 1" : " " + std::string(unit)) + "]";
    } else {
      text += " [" + shortest(key.value(defaults)) + "]";
    }
    text += '\n';
  }
  return text;
}

}  // namespace strandproof::sim
