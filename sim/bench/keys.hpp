// The keys of a scenario: one row each, used by the file reader, by --set and by the help.
#pragma once

#include <cstdint>
#include <limits>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "sim/bench/scenario.hpp"
#include "sim/bench/unit_text.hpp"

namespace strandproof::sim {

enum class KeyKind : std::uint8_t { quantity, count, text };

struct Key {
  std::string_view name;  // dotted
  KeyKind kind;
  Dimension dimension;              // of a quantity
  double& (*value)(Scenario&);      // quantity, count
  std::string& (*text)(Scenario&);  // text
  double low, high;                 // allowed, SI
  std::string_view help;
};

std::span<const Key> scenario_keys();
const Key* find_key(std::string_view name);
// Tables and keys that the reader knows, to name the nearest.
std::vector<std::string_view> key_names();
std::vector<std::string_view> section_names();  // what stands before the dot

// Keys that say what a jack is, not what is done with it: those that a jack file holds.
bool belongs_to_jack(const Key& key);
std::vector<std::string_view> jack_key_names();

// A value with a unit that people read: "21 ms", "1.92 L/min". What parse_quantity reads back.
std::string value_text(const Key& key, double value, int digits = 6);

// Unit of the key's value in a scenario, SI; "" for a ratio or a count.
std::string_view si_unit(const Key& key);

// Puts a value under its key. Throws UnitError with what is wrong and the remedy.
void put_quantity(Scenario& scenario, const Key& key, std::string_view text);
void put_number(Scenario& scenario, const Key& key, double value);

// A fault's "at": time, force or length, whichever the unit says. Throws UnitError.
fault::Trigger parse_trigger(std::string_view text);
// A fault's size in the unit that its row measures in. Throws UnitError: this fault has no size, another
// unit, not above zero.
double parse_size(const fault::Row& row, std::string_view text);
// Where along the strand it happens, m from the live end. Throws UnitError: not along the strand, negative.
double parse_place(const fault::Row& row, std::string_view text);
// The row's own size with its unit: "3 %", "200 ms"; "" if it has none.
std::string size_text(const fault::Row& row, double size);
// The row of this name. Throws UnitError naming the nearest.
const fault::Row& fault_row(std::string_view name);

}  // namespace strandproof::sim
