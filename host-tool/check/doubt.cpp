#include "host-tool/check/doubt.hpp"

#include <fmt/core.h>

#include <array>
#include <map>
#include <string_view>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
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

// Every revision under which the same table file was loaded, the given one among them.
std::set<std::uint32_t> same_table(const archive::Archive& kept, const std::vector<HistoryEntry>& history,
                                   std::uint32_t device, std::uint32_t revision) {
  std::set<std::uint32_t> same{revision};
  const auto held = kept.table(device, revision);
  if (!held) return same;
  for (const auto& e : history) {
    const auto other = e.act == Act::loaded ? kept.table(device, e.revision) : std::nullopt;
    if (other && other->json == held->json) same.insert(e.revision);
  }
  return same;
}

std::uint64_t last_proof(const std::vector<HistoryEntry>& history, std::size_t withdrawal,
                         const std::set<std::uint32_t>& revisions) {
  const auto& w = history[withdrawal];
  if (w.outcome == static_cast<std::uint32_t>(Reason::reference_cell)) return 0;
  std::uint64_t after = 0;
  for (std::size_t i = 0; i < withdrawal; ++i) {
    const auto& e = history[i];
    if (e.act == Act::checked && revisions.contains(e.revision) &&
        e.outcome == static_cast<std::uint32_t>(Verdict::pass))
      after = e.last_record;
  }
  return after;
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
    if (history[i].act != Act::withdrawn) continue;
    const auto revisions = same_table(kept, history, device, history[i].revision);
    found.push_back({history[i], revisions, last_proof(history, i, revisions)});
  }
  return found;
}

std::string doubt_about(const std::vector<Doubt>& all, std::uint32_t revision, std::uint64_t sequence) {
  for (const auto& d : all) {
    if (d.revisions.contains(revision) && sequence > d.after) return reason_text(d.withdrawal.outcome);
  }
  return {};
}

std::string withdrawn_before(const archive::Archive& kept, std::uint32_t device, const std::string& json) {
  for (const auto& d : doubts(kept, device)) {
    for (const auto revision : d.revisions) {
      const auto held = kept.table(device, revision);
      if (held && held->json == json) return reason_text(d.withdrawal.outcome);
    }
  }
  return {};
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

std::string reason_text(std::uint32_t reason) {
  switch (reason) {
#define REASON(number, id, text) \
  case number:                   \
    return text;
#include "proto/catalogue.def"
    default:
      return fmt::format("reason {} (of a newer program)", reason);
  }
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
