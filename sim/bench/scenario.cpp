// The one translation unit that sees toml++ (a heavy header).
#include "sim/bench/scenario.hpp"

#include <cmath>
#include <filesystem>
#include <fstream>
#include <sstream>

#define TOML_EXCEPTIONS 1
#include <toml++/toml.h>

#include "sim/bench/keys.hpp"
#include "sim/bench/operator.hpp"
#include "sim/fault/nearest.hpp"

namespace strandproof::sim {
namespace {

// Messages quote what was written, and that may hold anything: a line stays a line.
std::string one_line(std::string text) {
  for (char& letter : text) {
    if (static_cast<unsigned char>(letter) < 0x20) {
      letter = '?';
    }
  }
  return text;
}

// Reads one file: knows its name for the messages.
class Reader {
 public:
  Reader(Scenario& into, std::string name) : scenario_{into}, name_{std::move(name)} {}

  void read(const toml::table& table, const std::string& prefix) {
    for (auto&& [key, node] : table) {
      const std::string path = prefix + std::string(key.str());
      if (path == "seed") {
        seed(node);
      } else if (path == "operator") {
        operator_lines(node);
      } else if (path == "fault") {
        faults(node);
      } else if (const Key* known = find_key(path)) {
        put(*known, node);
      } else if (node.is_table() && is_table(path)) {
        read(*node.as_table(), path + ".");
      } else {
        const bool section = node.is_table() && prefix.empty();
        fail(key.source(), "unknown key \"" + path + "\"; did you mean \"" +
                               std::string(nearest(path, section ? section_names() : key_names())) + "\"?");
      }
    }
  }

 private:
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
    for (auto&& entry : table) {  // no structured binding: clang 14 can not capture one
      const toml::key& key = entry.first;
      const toml::node& node = entry.second;
      const auto text = node.value_exact<std::string>();
      if (!text) {
        fail(node.source(),
             "fault." + std::string(key.str()) + " is a text; write it in quotes, with its unit");
      }
      at(node, [&] {
        if (key.str() == "kind") {
          made.row = &fault_row(*text);
        } else if (key.str() == "at") {
          made.trigger = parse_trigger(*text);
          timed = true;
        } else if (key.str() == "lasts") {
          made.lasts = parse_quantity(*text, Dimension::time);
        } else {
          const std::array<std::string_view, 3> known{"kind", "at", "lasts"};
          fail(key.source(), "unknown key \"" + std::string(key.str()) + "\" of a fault; did you mean \"" +
                                 std::string(nearest(key.str(), known)) + "\"?");
        }
      });
    }
    if (made.row == nullptr || !timed) {
      fail(table.source(),
           "a fault needs kind and at; write for example kind = \"strand-break\" and at = \"78 kN\"");
    }
    return made;
  }

  Scenario& scenario_;
  std::string name_;
};

}  // namespace

namespace {

// The TOML parser stops the whole program on some malformed input instead of refusing it (found by
// fuzzing; kept in tests/fuzz/corpus/scenario_fuzz). What leads there is refused before it sees it, none of
// it of use in a scenario: control characters, letters outside ASCII except in remarks, multi-line
// strings, braces, and table names that do not begin with a letter.
class Precheck {
 public:
  Precheck(std::string_view text, const std::string& name) : text_{text}, name_{name} {}

  void run() {
    std::size_t line = 1;
    while (!text_.empty()) {
      const auto end = text_.find('\n');
      check_line(text_.substr(0, end), line++);
      text_ = end == std::string_view::npos ? std::string_view() : text_.substr(end + 1);
    }
  }

 private:
  [[noreturn]] void fail(std::size_t line, std::size_t column, const char* what) const {
    throw ScenarioError(name_ + ":" + std::to_string(line) + ":" + std::to_string(column + 1) + ": " + what);
  }

  void check_line(std::string_view content, std::size_t line) const {
    check_header(content, line);
    char quote = 0;
    for (std::size_t i = 0; i < content.size(); ++i) {
      const char letter = content[i];
      const auto code = static_cast<unsigned char>(letter);
      if ((code < 0x20 && letter != '\t' && (letter != '\r' || i + 1 != content.size())) || code == 0x7F) {
        fail(line, i, "a control character; this is no text file, or was damaged: remove it");
      }
      if (quote == 0 && letter == '#') {
        return;  // the rest is a remark
      }
      if (code >= 0x80) {
        fail(line, i, "a letter outside ASCII, which the pendant's display has not; write it otherwise");
      }
      if (quote == 0 && (letter == '{' || letter == '}')) {
        fail(line, i, "a table in braces; write it as [table] with its keys below it");
      }
      if (quote == 0 && (letter == '"' || letter == '\'')) {
        if (content.substr(i, 3) == std::string(3, letter)) {
          fail(line, i,
               "a string over several lines; write it on one line in single quotes or double quotes");
        }
        quote = letter;
      } else if (quote == '"' && letter == '\\') {
        ++i;
      } else if (letter == quote) {
        quote = 0;
      }
    }
  }

  void check_header(std::string_view content, std::size_t line) const {
    std::size_t at = content.find_first_not_of(" \t");
    if (at == std::string_view::npos || content[at] != '[') {
      return;
    }
    at = content.find_first_not_of(" \t", at + 1);
    if (at != std::string_view::npos && content[at] == '[') {
      at = content.find_first_not_of(" \t", at + 1);
    }
    const char letter = at == std::string_view::npos ? '\0' : content[at];
    const bool plain = (letter >= 'a' && letter <= 'z') || (letter >= 'A' && letter <= 'Z') ||
                       (letter >= '0' && letter <= '9') || letter == '_' || letter == '-' || letter == '"' ||
                       letter == '\'';
    if (!plain) {
      fail(line, at == std::string_view::npos ? content.size() : at,
           "a table's name begins with a letter; write for example [strand]");
    }
  }

  std::string_view text_;
  const std::string& name_;
};

}  // namespace

Scenario parse_scenario(std::string_view text, const std::string& name) {
  if (text.starts_with("\xEF\xBB\xBF")) {
    throw ScenarioError(name + ":1:1: begins with a byte-order mark; save it as UTF-8 without one");
  }
  Precheck(text, name).run();
  Scenario scenario;
  try {
    const toml::table table = toml::parse(text, name);
    Reader(scenario, name).read(table, "");
  } catch (const toml::parse_error& error) {
    throw ScenarioError(one_line(name + ":" + std::to_string(error.source().begin.line) + ":" +
                                 std::to_string(error.source().begin.column) + ": not valid TOML: " +
                                 std::string(error.description()) + "; correct the line"));
  }
  return scenario;
}

Scenario read_scenario(const std::string& path) {
  if (std::filesystem::is_directory(path)) {
    throw ScenarioError(path + ": is a folder; name a scenario file");
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
  return parse_scenario(text.str(), path);
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
  } catch (const UnitError& error) {
    throw ScenarioError("--set " + std::string(assignment) + ": " + error.what());
  }
}

}  // namespace strandproof::sim
