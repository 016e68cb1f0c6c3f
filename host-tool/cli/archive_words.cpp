#include "host-tool/cli/archive_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <span>
#include <string_view>
#include <vector>

#include "host-tool/base/text.hpp"
#include "host-tool/report/lines.hpp"

namespace strandproof::host::cli {
namespace {

struct Word {
  std::uint32_t number;
  std::string_view word;
};

constexpr Word verdicts[] = {
#define VERDICT(number, id, text) {number, #id},
#include "proto/catalogue.def"
};
constexpr Word events[] = {
#define EVENT(number, id, text, detail) {number, #id},
#include "proto/catalogue.def"
};
constexpr Word causes[] = {
#define CAUSE(number, id, what, remedy) {number, #id},
#include "proto/catalogue.def"
};
constexpr Word decisions[] = {
    {1, report::decision_words[0]}, {2, report::decision_words[1]}, {3, report::decision_words[2]}};

// The catalogue's h14_strand_break is h14-strand-break, or strand-break alone.
std::string spoken(std::string_view id) {
  std::string word{id};
  std::replace(word.begin(), word.end(), '_', '-');
  return word;
}

bool means(std::string_view id, const std::string& word) {
  const std::string full = spoken(id);
  const bool row = full.size() > 4 && full[0] == 'h' && full[3] == '-';
  return word == full || (row && word == full.substr(4));
}

std::uint32_t number_of(const std::string& text, std::span<const Word> words, const char* option) {
  std::uint32_t number = 0;
  const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), number);
  if (error == std::errc{} && end == text.data() + text.size()) return number;
  std::vector<std::string> known;
  for (const auto& w : words) {
    if (means(w.word, text)) return w.number;
    known.push_back(spoken(w.word));
  }
  throw bad_input(
      fmt::format("{} {}: is none of {}; choose one", option, shown(text), fmt::join(known, ", ")));
}

std::string day_begin(const std::string& text) {
  return text.size() == 10 ? text + "T00:00:00Z" : text;
}

template <class Value>
std::optional<Value> given(Value value) {
  return value == Value{} ? std::nullopt : std::optional<Value>{value};
}

}  // namespace

std::int64_t moment(const std::string& text, const char* option) {
  const auto at = parse_time(day_begin(text));
  if (!at)
    throw bad_input(
        fmt::format("{} {}: is no day; write 2026-05-04, or 2026-05-04T09:30:00+02:00", option, shown(text)));
  return *at;
}

archive::Decision decision_number(const std::string& word) {
  const auto number = number_of(word, decisions, "--decision");
  if (number < 1 || number > 3)
    throw bad_input("--decision: is none of accepted, replaced, rejected; choose one");
  return static_cast<archive::Decision>(number);
}

archive::Filter filter_of(const LogFind& o) {
  archive::Filter f;
  f.device = given(o.jack);
  f.bed = given(o.bed);
  f.position = given(o.position);
  f.reel = given(o.reel);
  f.table = given(o.table);
  if (!o.strand.empty()) f.strand = o.strand;
  if (!o.verdict.empty()) f.verdict = number_of(o.verdict, verdicts, "--verdict");
  if (!o.event.empty()) f.event = number_of(o.event, events, "--event");
  if (!o.cause.empty()) f.cause = number_of(o.cause, causes, "--cause");
  if (!o.span.from.empty()) f.from_s = moment(o.span.from, "--from");
  if (!o.span.until.empty()) f.until_s = moment(o.span.until, "--until");
  f.first = given(o.first);
  f.last = given(o.last);
  f.limit = o.limit;
  return f;
}

}  // namespace strandproof::host::cli
