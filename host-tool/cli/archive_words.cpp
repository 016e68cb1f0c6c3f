#include "host-tool/cli/archive_words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>
#include <span>
#include <string_view>
#include <vector>

#include "host-tool/base/text.hpp"

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
constexpr Word decisions[] = {{1, "accepted"}, {2, "replaced"}, {3, "rejected"}};

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

std::string entry_line(const archive::Entry& e) {
  using Kind = archive::EntryKind;
  std::string where;
  if (e.device != 0) where += fmt::format(" jack {}", e.device);
  if (e.bed != 0) where += fmt::format(" bed {}", e.bed);
  if (e.sequence != 0 && e.kind != Kind::sign_off) where += fmt::format(" record {}", e.sequence);
  const std::string by = " by " + shown(e.by);
  const std::string words = e.words.empty() ? "" : ": " + shown(e.words, 400);
  switch (e.kind) {
    case Kind::remark:
      return "remark" + where + by + words;
    case Kind::disposition:
      return fmt::format("decision {}{}{}{}",
                         e.outcome >= 1 && e.outcome <= 3 ? decisions[e.outcome - 1].word : "not known",
                         where, by, words);
    case Kind::sign_off:
      return fmt::format("signed off{}{}: {} pulls up to record {}, SHA-256 {}", where, by, e.outcome,
                         e.sequence, e.records_digest_hex);
    case Kind::minimum_age:
      return fmt::format("minimum age of signed beds raised to {} days{}", e.outcome, by);
    case Kind::deletion:
      return fmt::format("{} records deleted{}{}{}; SHA-256 {}", e.outcome, where, by, words,
                         e.records_digest_hex);
    case Kind::enrolment:
      return "controller enrolled" + where + by + words;
  }
  return fmt::format("kind {} of a newer program{}{}{}", static_cast<unsigned>(e.kind), where, by, words);
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
