#include "sim/bench/toml_precheck.hpp"

#include "sim/bench/scenario.hpp"

namespace strandproof::sim {
namespace {

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

void precheck_toml(std::string_view text, const std::string& name) {
  if (text.starts_with("\xEF\xBB\xBF")) {
    throw ScenarioError(name + ":1:1: begins with a byte-order mark; save it as UTF-8 without one");
  }
  Precheck(text, name).run();
}

std::string one_line(std::string text) {
  for (char& letter : text) {
    if (static_cast<unsigned char>(letter) < 0x20) {
      letter = '?';
    }
  }
  return text;
}

}  // namespace strandproof::sim
