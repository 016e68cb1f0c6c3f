#include "sim/campaign/shrink.hpp"

#include <algorithm>
#include <cmath>

#include "sim/bench/format.hpp"
#include "sim/bench/names.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

constexpr std::string_view fault_word = "fault ";

std::string trigger_text(const fault::Trigger& t) {
  switch (t.by) {
    case fault::By::time:
      return format("%.5g s", t.at);
    case fault::By::force:
      return format("%.5g kN", t.at / 1e3);
    case fault::By::state:
      return "state " + std::string(state_name(static_cast<std::uint8_t>(t.at)));
    case fault::By::stroke:
      break;
  }
  return format("%.5g mm", t.at * 1e3);
}

}  // namespace

std::vector<std::string> drawn_parts(const Campaign& c, const Scenario& s) {
  std::vector<std::string> parts;
  for (const fault::Fault& f : s.faults) {
    parts.push_back(std::string(fault_word) + std::string(f.row->name));
  }
  if (s.operator_lines != c.base.operator_lines) {
    parts.emplace_back("operator");
  }
  Scenario mine = s;
  Scenario base = c.base;
  for (const Key& key : scenario_keys()) {
    if (key.kind != KeyKind::text && key.value(mine) != key.value(base)) {
      parts.emplace_back(key.name);
    }
  }
  return parts;
}

std::string part_text(const Scenario& s, const std::string& part) {
  if (part == "operator") {
    std::string text = part + " =";
    for (const std::string& line : s.operator_lines) {
      text += " \"" + line + "\"";
    }
    return text;
  }
  for (const fault::Fault& f : s.faults) {
    if (part == std::string(fault_word) + std::string(f.row->name)) {
      return part + " at " + trigger_text(f.trigger) +
             (std::isnan(f.size) ? "" : ", size " + size_text(*f.row, f.size)) +
             (std::isnan(f.from_live_end) ? "" : format(", %.5g m from the live end", f.from_live_end)) +
             (std::isfinite(f.lasts) ? format(", lasts %.5g s", f.lasts) : "");
    }
  }
  Scenario mine = s;
  const Key& key = *find_key(part);
  const std::string unit(si_unit(key));
  return part + " = " + format("%.5g", key.value(mine)) + (unit.empty() ? "" : " " + unit);
}

void drop_part(const Campaign& c, Scenario& s, std::string_view part) {
  const auto parts = drawn_parts(c, s);
  if (std::find(parts.begin(), parts.end(), part) == parts.end()) {
    const std::vector<std::string_view> known(parts.begin(), parts.end());
    throw ScenarioError("this pull has no part \"" + std::string(part) + "\"" +
                        (known.empty() ? std::string("; it is the base scenario")
                                       : "; did you mean \"" + std::string(nearest(part, known)) + "\"?"));
  }
  if (part.starts_with(fault_word)) {
    const auto named = [&](const fault::Fault& f) { return f.row->name == part.substr(fault_word.size()); };
    s.faults.erase(std::find_if(s.faults.begin(), s.faults.end(), named));
  } else if (part == "operator") {
    s.operator_lines = c.base.operator_lines;
  } else {
    const Key& key = *find_key(part);
    Scenario base = c.base;
    key.value(s) = key.value(base);
  }
}

bool end_alike(const Outcome& a, const Outcome& b) {
  return end_of(a) == end_of(b) && a.cause == b.cause && a.breach == b.breach && a.verdict == b.verdict;
}

Shrunk shrink(const Campaign& c, std::uint32_t pull, const OnePull& one,
              const std::function<void(const std::string&)>& tell) {
  Shrunk r;
  Scenario s = drawn(c, pull);
  r.outcome = one(s);
  r.runs = 1;
  for (bool gone = true; gone;) {
    gone = false;
    for (const std::string& part : drawn_parts(c, s)) {
      Scenario tried = s;
      drop_part(c, tried, part);
      ++r.runs;
      if (!end_alike(one(tried), r.outcome)) {
        continue;
      }
      s = tried;
      r.dropped.push_back(part);
      if (tell) {
        tell("does not matter: " + part);
      }
      gone = true;
    }
  }
  r.outcome.pull = pull;
  r.kept = drawn_parts(c, s);
  return r;
}

}  // namespace strandproof::sim
