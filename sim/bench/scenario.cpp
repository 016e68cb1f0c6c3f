// The one translation unit that sees toml++ (a heavy header).
#include "sim/bench/scenario.hpp"

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

#include "sim/bench/keys.hpp"
#include "sim/bench/operator.hpp"
#include "sim/bench/toml_precheck.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

// Reads one file: knows its name for the messages.
class Reader {
 public:
  Reader(Scenario& into, std::string name) : scenario_{into}, name_{std::move(name)} {}

  // What stands beside the jack file counts over it, wherever in the file it stands.
  void read_all(const toml::table& table) {
    if (const toml::node* node = table.get("jack_file")) {
      const auto text = node->value_exact<std::string>();
      if (!text || text->empty()) {
        fail(node->source(), "jack_file is a text; write the name of the jack's file in quotes");
      }
      const auto folder = std::filesystem::path(name_).parent_path();
      try {
        read_jack_file(scenario_, (folder / *text).string());
      } catch (const ScenarioError& error) {
        fail(node->source(), error.what());
      }
    }
    read(table, "");
  }

  // origin, [measured] and [assumed], with keys of a scenario that belong to a jack.
  void read_jack(const toml::table& table) {
    for (auto&& [key, node] : table) {
      const std::string_view mark = key.str();
      if (mark == "origin") {
        const auto text = node.value_exact<std::string>();
        if (!text || (*text != "simulated" && *text != "bench")) {
          fail(node.source(), "origin is \"bench\" (a real jack) or \"simulated\"");
        }
        scenario_.jack_simulated = *text == "simulated";
        continue;
      }
      if (!node.is_table() || (mark != "measured" && mark != "assumed")) {
        fail(key.source(),
             "a jack file has the tables [measured] and [assumed], and in them keys such as "
             "valves.delay; nothing else");
      }
      read_marked(*node.as_table(), "", mark == "measured");
    }
  }

 private:
  void read_marked(const toml::table& table, const std::string& prefix, bool measured) {
    for (auto&& [key, node] : table) {
      const std::string path = prefix + std::string(key.str());
      const Key* known = find_key(path);
      if (known == nullptr && node.is_table()) {
        read_marked(*node.as_table(), path + ".", measured);
      } else if (known == nullptr || !belongs_to_jack(*known)) {
        fail(key.source(), "\"" + path + "\" is no value of a jack; did you mean \"" +
                               std::string(nearest(path, jack_key_names())) + "\"?");
      } else if (std::find(marked_.begin(), marked_.end(), path) != marked_.end()) {
        fail(key.source(), path + " is marked measured and assumed; keep one of the two");
      } else {
        put(*known, node);
        marked_.push_back(path);
        if (measured) {
          scenario_.measured.push_back(path);
        }
      }
    }
  }

  void read(const toml::table& table, const std::string& prefix) {
    for (auto&& [key, node] : table) {
      const std::string path = prefix + std::string(key.str());
      if (path == "jack_file") {
        continue;  // read before
      }
      if (path == "seed") {
        seed(node);
      } else if (path == "operator") {
        operator_lines(node);
      } else if (path == "fault") {
        faults(node);
      } else if (const Key* known = find_key(path)) {
        put(*known, node);
        std::erase(scenario_.measured, path);
      } else if (node.is_table() && is_table(path)) {
        read(*node.as_table(), path + ".");
      } else {
        const bool section = node.is_table() && prefix.empty();
        fail(key.source(), "unknown key \"" + path + "\"; did you mean \"" +
                               std::string(nearest(path, section ? section_names() : key_names())) + "\"?");
      }
    }
  }

  [[noreturn]] void fail(const toml::source_region& where, const std::string& what) const {
    throw ScenarioError(one_line(name_ + ":" + std::to_string(where.begin.line) + ":" +
                                 std::to_string(where.begin.column) + ": " + what));
  }

  static bool is_table(const std::string& path) {
    for (const Key& key : scenario_keys()) {
      if (key.name.starts_with(path + ".")) {
        return true;
      }
    }
    return false;
  }

  // Whatever a value turns out wrong with, the message gets its place.
  template <class Do>
  void at(const toml::node& node, Do&& act) {
    try {
      act();
    } catch (const UnitError& error) {
      fail(node.source(), error.what());
    } catch (const std::invalid_argument& error) {
      fail(node.source(), error.what());
    }
  }

  void put(const Key& key, const toml::node& node) {
    const auto text = node.value_exact<std::string>();
    if (key.kind == KeyKind::text) {
      if (!text || text->empty() || text->size() > 23) {
        fail(node.source(), std::string(key.name) + " is a text of 1 to 23 letters; write it in quotes");
      }
      key.text(scenario_) = *text;
    } else if (key.kind == KeyKind::quantity) {
      if (!text) {
        fail(node.source(), std::string(key.name) + " is " + std::string(name_of(key.dimension)) +
                                " and needs its unit in quotes; write it in " + units_of(key.dimension));
      }
      at(node, [&] { put_quantity(scenario_, key, *text); });
    } else {
      if (!node.is_number()) {
        fail(node.source(), std::string(key.name) + " is a bare number; write it without quotes and unit");
      }
      at(node, [&] { put_number(scenario_, key, *node.value<double>()); });
    }
  }

  void seed(const toml::node& node) {
    const auto value = node.value_exact<std::int64_t>();
    if (!value || *value < 0) {
      fail(node.source(), "seed is a whole number from 0; write for example seed = 7");
    }
    scenario_.seed = static_cast<std::uint64_t>(*value);
  }

  void operator_lines(const toml::node& node) {
    const toml::array* list = node.as_array();
    if (list == nullptr) {
      fail(node.source(), "operator is a list of commands; write for example operator = [\"pull\"]");
    }
    scenario_.operator_lines.clear();
    for (const toml::node& line : *list) {
      const auto text = line.value_exact<std::string>();
      if (!text) {
        fail(line.source(), "an operator command is a text; write it in quotes");
      }
      at(line, [&] { static_cast<void>(make_routine(*text)); });
      scenario_.operator_lines.push_back(*text);
    }
  }

  void faults(const toml::node& node) {
    const toml::array* list = node.as_array();
    if (list == nullptr || !list->is_array_of_tables()) {
      fail(node.source(), "faults are tables; write [[fault]] with kind and at below it");
    }
    for (const toml::node& entry : *list) {
      scenario_.faults.push_back(one_fault(*entry.as_table()));
    }
  }

  fault::Fault one_fault(const toml::table& table) {
    fault::Fault made;
    bool timed = false;
    const toml::node* sized = nullptr;
    const toml::node* placed = nullptr;
    for (auto&& entry : table) {  // no structured binding: clang 14 can not capture one
      const toml::key& key = entry.first;
      const toml::node& node = entry.second;
      if (key.str() == "size" || key.str() == "from_live_end") {
        (key.str() == "size" ? sized : placed) = &node;  // they depend on the kind, which may come later
        continue;
      }
      const std::string text = quoted(node, std::string(key.str()));
      at(node, [&] {
        if (key.str() == "kind") {
          made.row = &fault_row(text);
        } else if (key.str() == "at") {
          made.trigger = parse_trigger(text);
          timed = true;
        } else if (key.str() == "lasts") {
          made.lasts = parse_quantity(text, Dimension::time);
          if (!(made.lasts > 0.0)) {
            throw UnitError("\"" + text + "\" is over before it begins; write a time above zero");
          }
        } else {
          const std::array<std::string_view, 5> known{"kind", "at", "lasts", "size", "from_live_end"};
          fail(key.source(), "unknown key \"" + std::string(key.str()) + "\" of a fault; did you mean \"" +
                                 std::string(nearest(key.str(), known)) + "\"?");
        }
      });
    }
    if (made.row == nullptr || !timed) {
      fail(table.source(),
           "a fault needs kind and at; write for example kind = \"strand-break\" and at = \"78 kN\"");
    }
    if (sized != nullptr) {
      at(*sized, [&] { made.size = parse_size(*made.row, quoted(*sized, "size")); });
    }
    if (placed != nullptr) {
      at(*placed, [&] { made.from_live_end = parse_place(*made.row, quoted(*placed, "from_live_end")); });
    }
    return made;
  }

  std::string quoted(const toml::node& node, const std::string& key) const {
    const auto text = node.value_exact<std::string>();
    if (!text) {
      fail(node.source(), "fault." + key + " is a text; write it in quotes, with its unit");
    }
    return *text;
  }

  Scenario& scenario_;
  std::string name_;
  std::vector<std::string> marked_;
};

toml::table parsed(std::string_view text, const std::string& name) {
  precheck_toml(text, name);
  try {
    return toml::parse(text, name);
  } catch (const toml::parse_error& error) {
    throw ScenarioError(one_line(name + ":" + std::to_string(error.source().begin.line) + ":" +
                                 std::to_string(error.source().begin.column) + ": not valid TOML: " +
                                 std::string(error.description()) + "; correct the line"));
  }
}

std::string text_of(const std::string& path) {
  if (std::filesystem::is_directory(path)) {
    throw ScenarioError(path + ": is a folder; name a file");
  }
  std::ifstream file(path, std::ios::binary);
  if (!file) {
    throw ScenarioError(path + ": can not be read; check the name and your permission");
  }
  std::ostringstream text;
  text << file.rdbuf();
  if (!file.good() && !file.eof()) {
    throw ScenarioError(path + ": can not be read to its end; check the disk");
  }
  return text.str();
}

}  // namespace

Scenario parse_scenario(std::string_view text, const std::string& name) {
  Scenario scenario;
  Reader(scenario, name).read_all(parsed(text, name));
  return scenario;
}

Scenario read_scenario(const std::string& path) {
  return parse_scenario(text_of(path), path);
}

void read_jack_file(Scenario& scenario, const std::string& path) {
  Reader(scenario, path).read_jack(parsed(text_of(path), path));
  scenario.jack_file = path;
}

void set_value(Scenario& scenario, std::string_view assignment) {
  const auto equals = assignment.find('=');
  if (equals == std::string_view::npos) {
    throw ScenarioError("--set " + std::string(assignment) + ": no '='; write --set key=value");
  }
  const std::string name(assignment.substr(0, equals));
  const std::string_view value = assignment.substr(equals + 1);
  const Key* key = find_key(name);
  if (key == nullptr) {
    throw ScenarioError("--set " + std::string(assignment) + ": unknown key \"" + name +
                        "\"; did you mean \"" + std::string(nearest(name, key_names())) + "\"?");
  }
  try {
    if (key->kind == KeyKind::text) {
      key->text(scenario) = std::string(value);
    } else if (key->kind == KeyKind::quantity) {
      put_quantity(scenario, *key, value);
    } else {
      put_number(scenario, *key, parse_number(value));
    }
    std::erase(scenario.measured, name);
  } catch (const UnitError& error) {
    throw ScenarioError("--set " + std::string(assignment) + ": " + error.what());
  }
}

}  // namespace strandproof::sim
