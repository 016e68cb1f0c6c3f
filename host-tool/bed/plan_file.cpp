#include "host-tool/bed/plan_file.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <limits>
#include <set>
#include <vector>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bed/quantity.hpp"

// toml++ 3.3 meets some malformed input with an assertion instead of a parse_error, "[&" and "[}" among it
// (tests/fuzz/corpus/plan_fuzz), and without assertions runs on. Its assertion is made an exception here, in
// every build type. The simulator refuses such input before it parses; neither world may include the other.
namespace strandproof::host::bed {
struct BrokenToml {};
[[noreturn]] inline void broken_toml() {
  throw BrokenToml{};
}
}  // namespace strandproof::host::bed
#undef NDEBUG
#define TOML_ASSERT(held) ((held) ? void() : strandproof::host::bed::broken_toml())
#include <toml++/toml.h>

namespace strandproof::host::bed {
namespace {

Problem at(const std::string& name, const toml::source_region& where, const std::string& what) {
  return bad_input(fmt::format("{}:{}:{}: {}", name, where.begin.line, where.begin.column, what));
}

// One table of the file: hands out its keys, remembers them, and refuses at the end those that nobody asked
// for.
class Section {
 public:
  Section(const toml::table& table, std::string title, const std::string& name)
      : table_{table}, title_{std::move(title)}, name_{name} {}

  [[nodiscard]] bool has(const char* key) {
    known_.insert(key);
    return table_.contains(key);
  }

  // low and high are in SI and both allowed.
  double quantity(const char* key, Kind kind, double low, double high) {
    const toml::node& node = need(key);
    const auto text = node.value<std::string>();
    if (!node.is_string() || !text)
      throw problem(node, key, "needs a text with number and unit, such as \"130 kN\"");
    const Reading r = read_quantity(*text, kind);
    if (!r.good) throw problem(node, key, r.problem);
    if (!(r.si >= low && r.si <= high)) {
      throw problem(node, key,
                    fmt::format("'{}' is outside {:.4g} to {:.4g} {}; correct it", shown(*text),
                                low / r.unit_si, high / r.unit_si, r.unit));
    }
    return r.si;
  }

  double quantity_or(const char* key, Kind kind, double low, double high, double otherwise) {
    return has(key) ? quantity(key, kind, low, high) : otherwise;
  }

  std::uint32_t number(const char* key) {
    const toml::node& node = need(key);
    const auto value = node.value<std::int64_t>();
    constexpr std::int64_t highest = std::numeric_limits<std::uint32_t>::max();
    if (!node.is_integer() || !value || *value < 1 || *value > highest) {
      throw problem(node, key, fmt::format("needs a whole number from 1 to {}", highest));
    }
    return static_cast<std::uint32_t>(*value);
  }

  // The end of a day, UTC.
  std::int64_t end_of_day(const char* key) {
    const toml::node& node = need(key);
    const auto text = node.value<std::string>();
    const auto end = parse_time(text.value_or("") + "T23:59:59Z");
    if (!node.is_string() || !end) throw problem(node, key, "needs a day, such as \"2026-05-04\"");
    return *end;
  }

  // Printable ASCII, 1 to 23 characters: it goes onto the display of the jack.
  std::string label(const char* key) {
    const toml::node& node = need(key);
    const auto text = node.value<std::string>();
    const bool good = node.is_string() && text && !text->empty() && text->size() <= 23 &&
                      text->find_first_not_of(printable) == std::string::npos;
    if (!good) throw problem(node, key, "needs a text of 1 to 23 plain ASCII characters");
    return *text;
  }

  Problem problem_at_key(const char* key, const std::string& what) { return problem(need(key), key, what); }

  void no_other_keys() const {
    for (const auto& [key, node] : table_) {
      if (known_.contains(std::string{key.str()})) continue;
      const auto guess = nearest(key.str(), known_);
      throw at(name_, key.source(),
               fmt::format("unknown key '{}' in {}{}", shown(key.str()), title_,
                           guess.empty() ? "; see host-tool/README.md" : "; did you mean '" + guess + "'?"));
    }
  }

  const toml::node& need(const char* key) {
    known_.insert(key);
    const toml::node* node = table_.get(key);
    if (node == nullptr) throw at(name_, table_.source(), fmt::format("{} has no '{}'; add it", title_, key));
    return *node;
  }

 private:
  static constexpr const char* printable =
      " !\"#$%&'()*+,-./0123456789:;<=>?@ABCDEFGHIJKLMNOPQRSTUVWXYZ[\\]^_`abcdefghijklmnopqrstuvwxyz{|}~";

  [[nodiscard]] Problem problem(const toml::node& node, const char* key, const std::string& what) const {
    return at(name_, node.source(), fmt::format("{} in {}: {}", key, title_, what));
  }

  const toml::table& table_;
  std::string title_;
  const std::string& name_;
  std::set<std::string> known_;
};

Section section(const toml::table& root, const char* title, const std::string& name) {
  const toml::node* node = root.get(title);
  if (node == nullptr || !node->is_table()) {
    throw at(name, node == nullptr ? root.source() : node->source(),
             fmt::format("no table [{0}]; add it", title));
  }
  return {*node->as_table(), fmt::format("[{}]", title), name};
}

void read_bed(Section s, Plan& plan) {
  plan.bed = s.number("number");
  plan.bed_name = s.label("name");
  if (s.has("last_day")) plan.until_s = s.end_of_day("last_day");
  plan.length_m = s.quantity("length", Kind::length, 1.0, 1000.0);
  if (s.has("abutment_stiffness") && s.has("abutment_movement")) {
    throw s.problem_at_key("abutment_movement", "give abutment_stiffness or abutment_movement, not both");
  }
  plan.abutments_n_per_m = s.quantity_or("abutment_stiffness", Kind::stiffness, 1e6, 1e12, 0.0);
  plan.abutment_movement_m = s.quantity_or("abutment_movement", Kind::length, 0.0, 0.1, 0.0);
  s.no_other_keys();
}

void read_jack(Section s, Plan& plan) {
  plan.jack_serial = s.number("serial");
  plan.stroke_m = s.quantity("stroke", Kind::length, 0.01, 5.0);
  plan.tail_m = s.quantity("tail", Kind::length, 0.0, 5.0);
  s.no_other_keys();
}

void read_strand(Section s, Plan& plan) {
  plan.strand.name = s.label("name");
  plan.strand.area_m2 = s.quantity("area", Kind::area, 1e-6, 1e-3);
  plan.strand.modulus_pa = s.quantity("modulus", Kind::modulus, 150e9, 230e9);
  plan.strand.breaking_n = s.quantity("breaking_force", Kind::force, 1e3, 1e6);
  const std::string code = s.label("code");
  if (code != "EN" && code != "ACI")
    throw s.problem_at_key("code", "is \"EN\" (EN 1992-1-1) or \"ACI\" (ACI 318)");
  plan.code = code == "EN" ? Code::en : Code::aci;
  if (plan.code == Code::en) plan.strand.proof_n = s.quantity("proof_force", Kind::force, 1e3, 1e6);
  s.no_other_keys();
}

void read_forces(Section s, Plan& plan) {
  plan.initial_n = s.quantity("initial", Kind::force, 500.0, 1e5);
  plan.design_n = s.quantity("design", Kind::force, 1e3, 1e6);
  plan.force_window = s.quantity_or("window", Kind::ratio, 0.005, 0.10, 0.05);
  if (s.has("margin")) plan.margin = s.quantity("margin", Kind::ratio, 0.0, 0.2);
  plan.warming_k = s.quantity_or("warming", Kind::temperature_difference, -60.0, 60.0, 0.0);
  plan.warmed_m = s.quantity_or("warmed_length", Kind::length, 0.0, 1000.0, 0.0);
  s.no_other_keys();
}

void read_elongation(Section s, Plan& plan) {
  plan.draw_in_m = s.quantity("draw_in", Kind::length, 0.0, 0.03);
  plan.draw_in_max_m = s.quantity_or("draw_in_max", Kind::length, 0.0, 0.05, 2.0 * plan.draw_in_m);
  plan.dead_end_m = s.quantity_or("dead_end", Kind::length, 0.0, 0.03, 0.0);
  plan.splices_m = s.quantity_or("splices", Kind::length, 0.0, 0.1, 0.0);
  plan.slack_max_m = s.quantity("slack_max", Kind::length, 0.0, 2.0);
  plan.elongation_window = s.quantity_or("window", Kind::ratio, 0.005, 0.15, 0.05);
  plan.elongation_floor_m = s.quantity_or("window_floor", Kind::length, 0.0, 0.02, 0.005);
  plan.stiffness_uncertainty = s.quantity_or("stiffness_uncertainty", Kind::ratio, 0.001, 0.2, 0.05);
  s.no_other_keys();
}

void read_positions(const toml::table& root, const std::string& name, Plan& plan) {
  const toml::node* node = root.get("position");
  const toml::array* list = node == nullptr ? nullptr : node->as_array();
  if (list == nullptr || list->empty()) {
    throw at(name, node == nullptr ? root.source() : node->source(),
             "no [[position]]; add one for each strand");
  }
  std::set<std::uint32_t> seen;
  for (const toml::node& entry : *list) {
    if (!entry.is_table()) throw at(name, entry.source(), "write [[position]] for each strand");
    Section s{*entry.as_table(), "[[position]]", name};
    Position p{s.number("number"), s.number("reel"), {}, {}};
    if (s.has("area")) p.area_m2 = s.quantity("area", Kind::area, 1e-6, 1e-3);
    if (s.has("modulus")) p.modulus_pa = s.quantity("modulus", Kind::modulus, 150e9, 230e9);
    if (!seen.insert(p.number).second)
      throw s.problem_at_key("number", fmt::format("position {} twice", p.number));
    s.no_other_keys();
    plan.positions.push_back(p);
  }
}

// toml++'s table of white space runs into __builtin_unreachable for some letters outside ASCII (U+00A7,
// U+FEFD), but not for this one. A plan takes all of them alike: in remarks only.
std::string one_foreign_letter(std::string_view text) {
  std::string same;
  for (const char letter : text) {
    if (static_cast<unsigned char>(letter) < 0x80) {
      same += letter;
    } else {
      same += "\xD2\x9A";  // U+049A
    }
  }
  return same;
}

bool broken(std::string_view text) {
  try {
    (void)toml::parse(text);
  } catch (const BrokenToml&) {
    return true;
  } catch (const toml::parse_error&) {
    return false;
  }
  return false;
}

// An assertion has no place in the file: it is in the last line of the shortest text that meets it.
std::size_t broken_line(std::string_view text) {
  std::vector<std::size_t> ends;
  for (std::size_t at = 0; at < text.size(); ++at) {
    if (text[at] == '\n') ends.push_back(at + 1);
  }
  const auto first =
      std::partition_point(ends.begin(), ends.end(), [&](auto end) { return !broken(text.substr(0, end)); });
  return static_cast<std::size_t>(first - ends.begin()) + 1;
}

toml::table parse(std::string_view text, const std::string& name) {
  try {
    return toml::parse(text, std::string_view{name});
  } catch (const BrokenToml&) {
    throw bad_input(fmt::format("{}:{}: not TOML; correct the line", name, broken_line(text)));
  } catch (const toml::parse_error& e) {
    throw at(name, e.source(), fmt::format("not TOML: {}; correct the line", shown(e.description(), 100)));
  }
}

}  // namespace

Plan read_plan(std::string_view text, const std::string& name) {
  if (text.starts_with("\xEF\xBB\xBF")) {
    throw bad_input(name + ":1:1: the file starts with a byte-order mark; save it as UTF-8 without one");
  }
  const toml::table root = parse(one_foreign_letter(text), name);
  Section top{root, "the plan", name};
  Plan plan{};
  plan.expansion_per_k = 11.7e-6;
  for (const char* title : {"bed", "jack", "strand", "forces", "elongation", "position"})
    (void)top.has(title);
  top.no_other_keys();
  read_bed(section(root, "bed", name), plan);
  read_jack(section(root, "jack", name), plan);
  read_strand(section(root, "strand", name), plan);
  read_forces(section(root, "forces", name), plan);
  read_elongation(section(root, "elongation", name), plan);
  read_positions(root, name, plan);
  return plan;
}

}  // namespace strandproof::host::bed
