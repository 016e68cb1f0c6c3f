#include "sim/bench/names.hpp"

#include <algorithm>
#include <array>
#include <string>

namespace strandproof::sim {
namespace {

struct Entry {
  std::uint32_t number;
  std::string name;
  std::string_view text, remedy;
};

std::string dashed(std::string_view id) {
  std::string name(id);
  std::replace(name.begin(), name.end(), '_', '-');
  return name;
}

enum List : std::size_t { states, loads, causes, verdicts, refusals, lists };

// All lists of the catalogue, read once.
const std::array<std::vector<Entry>, lists>& catalogue() {
  static const std::array<std::vector<Entry>, lists> all = [] {
    std::array<std::vector<Entry>, lists> read;
#define STATE(number, id, text) read[states].push_back({number, dashed(#id), text, ""});
#define LOAD(number, id, text) read[loads].push_back({number, dashed(#id), text, ""});
#define CAUSE(number, id, what, remedy) read[causes].push_back({number, dashed(#id), what, remedy});
#define VERDICT(number, id, text) read[verdicts].push_back({number, dashed(#id), text, ""});
#define REFUSAL(number, id, why, remedy) read[refusals].push_back({number, dashed(#id), why, remedy});
#define EVENT(number, id, text, detail)
#include "proto/catalogue.def"
    return read;
  }();
  return all;
}

const Entry& entry(List list, std::uint32_t number) {
  static const Entry unknown{0, "?", "?", "?"};
  for (const Entry& e : catalogue()[list]) {
    if (e.number == number) {
      return e;
    }
  }
  return unknown;
}

}  // namespace

std::string_view state_name(std::uint8_t number) {
  return entry(states, number).name;
}

std::optional<std::uint8_t> state_number(std::string_view name) {
  for (const Entry& e : catalogue()[states]) {
    if (e.name == name) {
      return static_cast<std::uint8_t>(e.number);
    }
  }
  return std::nullopt;
}

std::vector<std::string_view> state_names() {
  std::vector<std::string_view> names;
  for (const Entry& e : catalogue()[states]) {
    names.push_back(e.name);
  }
  return names;
}

std::string_view load_text(std::uint8_t number) {
  return entry(loads, number).text;
}
std::string_view verdict_text(std::uint32_t number) {
  return entry(verdicts, number).text;
}

CauseText cause_text(std::uint8_t number) {
  const Entry& e = entry(causes, number);
  return {e.name, e.text, e.remedy};
}

RefusalText refusal_text(std::uint32_t number) {
  const Entry& e = entry(refusals, number);
  return {e.text, e.remedy};
}

}  // namespace strandproof::sim
