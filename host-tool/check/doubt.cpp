#include "host-tool/check/doubt.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <map>
#include <nlohmann/json.hpp>
#include <string_view>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/same.hpp"
#include "host-tool/check/spot.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::check {
namespace {

enum class Reason : std::uint32_t {
#define REASON(number, id, text) id = number,
#include "proto/catalogue.def"
};
enum class PullVerdict : std::uint32_t {
#define VERDICT(number, id, text) id = number,
#include "proto/catalogue.def"
};

struct Word {
  std::string_view word;
  Reason reason;
};
constexpr std::array<Word, 5> words{{{"failed-check", Reason::failed_check},
                                     {"repair", Reason::repair},
                                     {"seal", Reason::seal},
                                     {"dropped", Reason::dropped},
                                     {"reference-cell", Reason::reference_cell}}};

using archive::Act;
using archive::HistoryEntry;

using Json = nlohmann::json;

// The table may rest on the cell of the withdrawn one: it names that cell, or one of the two names none.
bool may_share_cell(const std::string& json, const std::string& other) {
  const std::string a = text_at(json, "reference_cell", "serial");
  const std::string b = text_at(other, "reference_cell", "serial");
  return a.empty() || b.empty() || a == b;
}

// Every revision that the withdrawal reaches: the given one, and those of its calibration or of its cell.
std::set<std::uint32_t> reached(const archive::Archive& kept, const std::vector<HistoryEntry>& history,
                                std::uint32_t device, const HistoryEntry& withdrawal) {
  std::set<std::uint32_t> same{withdrawal.revision};
  const bool cell = withdrawal.outcome == static_cast<std::uint32_t>(Reason::reference_cell);
  const auto held = kept.table(device, withdrawal.revision);
  const std::string json = held ? held->json : "";
  for (const auto& e : history) {
    const auto other = e.act == Act::loaded ? kept.table(device, e.revision) : std::nullopt;
    if (other && (cell ? may_share_cell(other->json, json) : held && same_calibration(other->json, json)))
      same.insert(e.revision);
  }
  return same;
}

// The newest record up to last that was made before the first reading of a check. A record without a clock
// counts only if a later one still lies before the reading: what is not known is not proved. Of a check that
// was entered before any record was fetched all up to its last one is.
std::uint64_t made_before(const archive::Archive& kept, const HistoryEntry& entry, std::int64_t taken_s) {
  return kept.made_before(entry.device, entry.last_record, taken_s).value_or(entry.last_record);
}

// An entry without the time of its readings (of an older program) is taken as made at once.
std::uint64_t proved_by_spots(const archive::Archive& kept, const HistoryEntry& check) {
  const Json j = Json::parse(check.details, nullptr, false);
  if (!j.is_object() || !j.contains("first_taken_s") || !j["first_taken_s"].is_number_integer())
    return check.last_record;
  return made_before(kept, check, j["first_taken_s"].get<std::int64_t>());
}

// What a load proves: the calibration was a check of the table before it, if it found that one right.
std::uint64_t proved_by_calibration(const archive::Archive& kept, const HistoryEntry& load,
                                    std::uint32_t before) {
  const auto earlier = kept.table(load.device, before);
  const auto later = kept.table(load.device, load.revision);
  const auto a = earlier ? table_of(earlier->json) : std::nullopt;
  const auto b = later ? table_of(later->json) : std::nullopt;
  if (!a || !b || same_calibration(earlier->json, later->json) || !confirms(*b, *a)) return 0;
  const auto first = parse_time(text_at(later->json, "source", "first_reading"));
  return made_before(kept, load, first.value_or(b->calibrated_s));
}

std::uint64_t last_proof(const archive::Archive& kept, const std::vector<HistoryEntry>& history,
                         std::size_t withdrawal) {
  std::uint64_t after = 0;
  std::uint32_t before = 0;  // revision that was in use
  for (std::size_t i = 0; i < withdrawal; ++i) {
    const auto& e = history[i];
    if (e.act == Act::checked && e.outcome == static_cast<std::uint32_t>(Verdict::pass)) {
      after = std::max(after, proved_by_spots(kept, e));
    } else if (e.act == Act::loaded) {
      after = std::max(after, proved_by_calibration(kept, e, before));
      before = e.revision;
    } else if (e.act == Act::undone) {
      before = came_back(e);
    }
  }
  return after;
}

// Revisions that were loaded before the withdrawn table was, and not withdrawn with it.
std::set<std::uint32_t> loaded_before(const std::vector<HistoryEntry>& history, std::size_t withdrawal,
                                      const std::set<std::uint32_t>& withdrawn) {
  std::set<std::uint32_t> earlier;
  for (std::size_t i = 0; i < withdrawal; ++i) {
    if (history[i].act == Act::loaded && !withdrawn.contains(history[i].revision) &&
        history[i].revision < history[withdrawal].revision)
      earlier.insert(history[i].revision);
  }
  return earlier;
}

Doubt doubt_of(const archive::Archive& kept, const std::vector<HistoryEntry>& history, std::size_t i) {
  const auto& w = history[i];
  Doubt d{w, reached(kept, history, w.device, w), {}, 0};
  if (w.outcome == static_cast<std::uint32_t>(Reason::reference_cell)) return d;
  d.earlier = loaded_before(history, i, d.revisions);
  d.after = last_proof(kept, history, i);
  return d;
}

std::string signed_off(const std::vector<archive::SignOff>& all, std::uint64_t sequence) {
  std::string text;
  for (const auto& s : all) {
    if (s.last_record >= sequence) text = fmt::format("by {} at {}", shown(s.by), format_time(s.at_s));
  }
  return text;
}

}  // namespace

std::vector<Doubt> doubts(const archive::Archive& kept, std::uint32_t device) {
  const auto history = kept.history(device);
  std::vector<Doubt> found;
  for (std::size_t i = 0; i < history.size(); ++i) {
    if (history[i].act == Act::withdrawn) found.push_back(doubt_of(kept, history, i));
  }
  return found;
}

std::string doubt_about(const std::vector<Doubt>& all, std::uint32_t revision, std::uint64_t sequence) {
  for (const auto& d : all) {
    const bool reaches = d.revisions.contains(revision) || d.earlier.contains(revision);
    if (reaches && sequence > d.after) return texts::reason(d.withdrawal.outcome);
  }
  return {};
}

std::string withdrawn_before(const archive::Archive& kept, std::uint32_t device, const std::string& json) {
  for (const auto& d : doubts(kept, device)) {
    for (const auto revision : d.revisions) {
      const auto held = kept.table(device, revision);
      if (held && same_calibration(held->json, json)) return texts::reason(d.withdrawal.outcome);
    }
  }
  return {};
}

Pending pending(const archive::Archive& kept, std::uint32_t device, std::uint32_t revision) {
  Pending p{false, {}};
  for (const auto& e : kept.history(device)) {
    if (e.act != Act::checked || e.revision != revision) continue;
    const auto verdict = static_cast<Verdict>(e.outcome);
    p.withdraw = verdict == Verdict::withdraw;
    p.text = verdict == Verdict::pass
                 ? std::string{}
                 : fmt::format("the spot check of {} on revision {} said {}: {}", format_time(e.at_s),
                               revision, verdict_text(verdict), advice(verdict));
  }
  return p;
}

std::vector<DoubtfulPull> doubtful_pulls(const archive::Archive& kept, std::uint32_t device) {
  const auto all = doubts(kept, device);
  std::vector<DoubtfulPull> found;
  if (all.empty()) return found;
  std::map<std::uint32_t, std::vector<archive::SignOff>> signs;
  for (const auto& stored : kept.records(device)) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_pull()) continue;
    const auto& p = r.pull();
    const std::string reason = doubt_about(all, p.table_revision(), stored.sequence);
    if (reason.empty() || p.verdict() == static_cast<std::uint32_t>(PullVerdict::lowered)) continue;
    if (!signs.contains(p.bed())) signs[p.bed()] = kept.sign_offs(p.bed());
    found.push_back({device, p.bed(), p.position(), p.reel(), p.table_revision(), p.verdict(), p.bed_name(),
                     p.strand_name(), stored.sequence, static_cast<std::int64_t>(p.utc_s()), reason,
                     signed_off(signs[p.bed()], stored.sequence)});
  }
  return found;
}

std::uint32_t reason_number(const std::string& word) {
  for (const auto& w : words) {
    if (w.word == word) return static_cast<std::uint32_t>(w.reason);
  }
  throw bad_input(
      fmt::format("--reason {}: is none of failed-check, repair, seal, dropped, reference-cell; choose one",
                  shown(word)));
}

}  // namespace strandproof::host::check
