// Reads a campaign's file. Beside sim/bench/scenario.cpp the one translation unit that sees toml++.
#include <filesystem>
#include <fstream>
#include <sstream>

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

#include "sim/bench/fnv.hpp"
#include "sim/bench/operator.hpp"
#include "sim/bench/toml_precheck.hpp"
#include "sim/campaign/campaign.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

constexpr std::array<std::string_view, 9> top_keys{"name", "seed",  "pulls", "calibrate", "scenario",
                                                   "vary", "sweep", "fault", "operator"};

double read_key_value(const Key& key, std::string_view text) {
  return key.kind == KeyKind::quantity ? parse_quantity(text, key.dimension) : parse_number(text);
}

std::string read_text(const std::string& path) {
  std::ifstream file(path, std::ios::binary);
  if (!file || std::filesystem::is_directory(path)) {
    throw ScenarioError(path + ": can not be read; name a campaign file");
  }
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

class Reader {
 public:
  Reader(Campaign& into, std::string name) : campaign_{into}, name_{std::move(name)} {}

  // The scenario first, whatever its place in the file: the rest stands over it.
  void read(const toml::table& table) {
    if (const toml::node* node = table.get("scenario")) {
      const auto beside = std::filesystem::path(name_).parent_path() / text(*node, "scenario");
      campaign_.base = read_scenario(beside.string());
      campaign_.digest = fnv(campaign_.digest, read_text(beside.string()));
    }
    for (auto&& entry : table) {
      read_top(entry.first, entry.second);
    }
  }

 private:
  [[noreturn]] void fail(const toml::source_region& where, const std::string& what) const {
    throw ScenarioError(one_line(name_ + ":" + std::to_string(where.begin.line) + ":" +
                                 std::to_string(where.begin.column) + ": " + what));
  }

  // Whatever a value turns out wrong with, the message gets its place.
  template <class Do>
  auto at(const toml::node& node, Do&& act) {
    try {
      return act();
    } catch (const UnitError& error) {
      fail(node.source(), error.what());
    } catch (const std::invalid_argument& error) {
      fail(node.source(), error.what());
    }
  }

  std::string text(const toml::node& node, const std::string& what) {
    const auto found = node.value_exact<std::string>();
    if (!found || found->empty() || found->size() > 200) {
      fail(node.source(), what + " is a text; write it in quotes");
    }
    return *found;
  }

  std::int64_t whole(const toml::node& node, const std::string& what, std::int64_t low, std::int64_t high) {
    const auto found = node.value_exact<std::int64_t>();
    if (!found || *found < low || *found > high) {
      fail(node.source(), what + " is a whole number from " + std::to_string(low) + " to " +
                              std::to_string(high) + "; write it without quotes");
    }
    return *found;
  }

  void read_top(const toml::key& key, const toml::node& node) {
    const std::string_view word = key.str();
    if (word == "name") {
      campaign_.name = text(node, "name");
    } else if (word == "seed") {
      campaign_.seed = static_cast<std::uint64_t>(whole(node, "seed", 0, INT64_MAX));
    } else if (word == "pulls") {
      campaign_.pulls = static_cast<std::uint32_t>(whole(node, "pulls", 1, 100'000'000));
    } else if (word == "calibrate") {
      calibrate(node);
    } else if (word == "vary" || word == "sweep") {
      keys(node, "", word == "sweep");
    } else if (word == "fault") {
      each_table(node, "fault", [&](const toml::table& t) { campaign_.faults.push_back(one_fault(t)); });
    } else if (word == "operator") {
      each_table(node, "operator", [&](const toml::table& t) { campaign_.ways.push_back(one_way(t)); });
    } else if (word != "scenario") {
      fail(key.source(), "unknown key \"" + std::string(word) + "\" of a campaign; did you mean \"" +
                             std::string(nearest(word, top_keys)) + "\"?");
    }
  }

  void calibrate(const toml::node& node) {
    const std::string how = text(node, "calibrate");
    if (how != "each" && how != "once") {
      fail(node.source(),
           "calibrate is \"each\" (every jack on its rig) or \"once\" (one table of the base)");
    }
    campaign_.calibrate_each = how == "each";
  }

  // [vary] and [sweep]: dotted keys of a scenario.
  void keys(const toml::node& node, const std::string& prefix, bool swept) {
    if (!node.is_table()) {
      fail(node.source(), std::string(swept ? "sweep" : "vary") + " is a table; write [" +
                              (swept ? "sweep" : "vary") + "] with keys of a scenario below it");
    }
    for (auto&& entry : *node.as_table()) {
      const toml::key& name = entry.first;
      const toml::node& value = entry.second;
      const std::string path = prefix + std::string(name.str());
      const Key* key = find_key(path);
      if (key == nullptr && value.is_table()) {
        keys(value, path + ".", swept);
      } else if (key == nullptr || key->kind == KeyKind::text) {
        fail(name.source(), "\"" + path + "\" is no key with a number; did you mean \"" +
                                std::string(nearest(path, key_names())) + "\"?");
      } else if (swept) {
        sweep(*key, value);
      } else {
        vary(*key, value);
      }
    }
  }

  void vary(const Key& key, const toml::node& node) {
    const std::string words = text(node, std::string(key.name));
    at(node, [&] {
      Vary v{&key, parse_distribution(words, [&](std::string_view t) { return read_key_value(key, t); })};
      Scenario probe;
      if (v.from.shape != Shape::normal) {  // a normal's tails are held at the bounds
        put_number(probe, key, v.from.low());
        put_number(probe, key, v.from.high());
      } else {
        put_number(probe, key, v.from.values[0]);
      }
      campaign_.vary.push_back(v);
    });
  }

  void sweep(const Key& key, const toml::node& node) {
    const std::string words = text(node, std::string(key.name));
    if (campaign_.sweeps.size() == 2) {
      fail(node.source(), "a third key to sweep; a campaign sweeps one or two");
    }
    at(node, [&] {
      Sweep s{&key, parse_steps(words, [&](std::string_view t) { return read_key_value(key, t); })};
      Scenario probe;
      put_number(probe, key, s.steps.front());
      put_number(probe, key, s.steps.back());
      campaign_.sweeps.push_back(s);
    });
  }

  template <class Take>
  void each_table(const toml::node& node, const std::string& what, Take&& take) {
    const toml::array* list = node.as_array();
    if (list == nullptr || !list->is_array_of_tables()) {
      fail(node.source(), "each " + what + " of a campaign is a table; write [[" + what + "]]");
    }
    for (const toml::node& entry : *list) {
      take(*entry.as_table());
    }
  }

  double share(const toml::node& node) {
    const std::string words = text(node, "share");
    const double value = at(node, [&] { return parse_quantity(words, Dimension::ratio); });
    if (!(value > 0.0 && value <= 1.0)) {
      fail(node.source(), "a share is above 0 % and at most 100 %");
    }
    return value;
  }

  std::vector<std::string> texts(const toml::node& node, const std::string& what) {
    std::vector<std::string> found;
    if (const toml::array* list = node.as_array()) {
      for (const toml::node& entry : *list) {
        found.push_back(text(entry, what));
      }
    } else {
      found.push_back(text(node, what));
    }
    if (found.empty()) {
      fail(node.source(), what + " is an empty list; name at least one");
    }
    return found;
  }

  void kinds(const toml::node& node, FaultDraw& into) {
    for (const std::string& word : texts(node, "kind")) {
      if (word == "any") {
        for (const fault::Row& row : fault::table) {
          into.kinds.push_back(&row);
        }
      } else {
        at(node, [&] { into.kinds.push_back(&fault_row(word)); });
      }
    }
  }

  // A bare value is drawn as itself.
  Distribution times(const toml::node& node, const ReadValue& read) {
    const std::string words = text(node, "a time");
    return at(node, [&] {
      const bool bare = words.find_first_of("0123456789") == 0 || words.starts_with("state ");
      return bare ? Distribution{Shape::one_of, {read(words)}} : parse_distribution(words, read);
    });
  }

  Distribution onset(const toml::node& node, FaultDraw& f) {
    bool first = true;
    const Distribution found = times(node, [&](std::string_view t) {
      const fault::Trigger trigger = parse_trigger(t);
      if (!first && trigger.by != f.by) {
        throw UnitError("\"" + std::string(t) +
                        "\" is another kind of onset than the value before it; write two faults");
      }
      first = false;
      f.by = trigger.by;
      return trigger.at;
    });
    if (f.by == fault::By::state && found.shape != Shape::one_of) {
      fail(node.source(),
           "a state has nothing between it and another; write \"state settle\" or \"one of state "
           "main-pull, state settle\"");
    }
    return found;
  }

  // A number that each kind has to allow: a size in the unit that they share, a place along the strand.
  Distribution of_all_kinds(const toml::node& node, const FaultDraw& f,
                            double (*parse)(const fault::Row&, std::string_view)) {
    return times(node, [&](std::string_view t) {
      double value = 0.0;
      for (const fault::Row* row : f.kinds) {
        value = parse(*row, t);
      }
      return value;
    });
  }

  FaultDraw one_fault(const toml::table& table) {
    FaultDraw f;
    const toml::node* sized = nullptr;
    const toml::node* placed = nullptr;
    for (auto&& entry : table) {
      const toml::key& key = entry.first;
      const toml::node& node = entry.second;
      if (key.str() == "kind") {
        kinds(node, f);
      } else if (key.str() == "share") {
        f.share = share(node);
      } else if (key.str() == "at") {
        f.at = onset(node, f);
      } else if (key.str() == "lasts") {
        f.lasts = {times(node, [](std::string_view t) { return parse_quantity(t, Dimension::time); })};
      } else if (key.str() == "size") {
        sized = &node;  // its unit depends on the kinds, which may come later
      } else if (key.str() == "from_live_end") {
        placed = &node;
      } else {
        const std::array<std::string_view, 6> known{"kind", "share", "at", "lasts", "size", "from_live_end"};
        fail(key.source(), "unknown key \"" + std::string(key.str()) + "\" of a fault; did you mean \"" +
                               std::string(nearest(key.str(), known)) + "\"?");
      }
    }
    if (f.kinds.empty() || f.at.values.empty()) {
      fail(table.source(),
           "a fault needs kind and at; write for example kind = \"strand-break\" and at = "
           "\"uniform 20 kN to 120 kN\"");
    }
    if (sized != nullptr) {
      f.size = {of_all_kinds(*sized, f, parse_size)};
    }
    if (placed != nullptr) {
      f.from_live_end = {of_all_kinds(*placed, f, parse_place)};
    }
    return f;
  }

  WayOfWorking one_way(const toml::table& table) {
    WayOfWorking way;
    for (auto&& entry : table) {
      const toml::key& key = entry.first;
      const toml::node& node = entry.second;
      if (key.str() == "share") {
        way.share = share(node);
      } else if (key.str() == "lines") {
        way.lines = texts(node, "an operator command");
        at(node, [&] {
          for (const std::string& line : way.lines) {
            static_cast<void>(make_routine(line));
          }
        });
      } else {
        fail(key.source(),
             "unknown key \"" + std::string(key.str()) + "\" of an operator; known are share and lines");
      }
    }
    if (way.lines.empty()) {
      fail(table.source(), "an operator needs lines; write for example lines = [\"pull\"]");
    }
    return way;
  }

  Campaign& campaign_;
  std::string name_;
};

}  // namespace

Campaign parse_campaign(std::string_view text, const std::string& name) {
  precheck_toml(text, name);
  Campaign campaign;
  campaign.digest = fnv(fnv_start, text);
  try {
    const toml::table table = toml::parse(text, name);
    Reader(campaign, name).read(table);
  } catch (const toml::parse_error& error) {
    throw ScenarioError(one_line(name + ":" + std::to_string(error.source().begin.line) + ":" +
                                 std::to_string(error.source().begin.column) + ": not valid TOML: " +
                                 std::string(error.description()) + "; correct the line"));
  }
  return campaign;
}

Campaign read_campaign(const std::string& path) {
  return parse_campaign(read_text(path), path);
}

}  // namespace strandproof::sim
