#include "host-tool/bundle/collect.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <set>

#include "host-tool/base/problem.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::bundle {
namespace {

using archive::Archive;
using archive::Span;

// The events behind the last pull of a bed are signed by the next checkpoint; the firmware makes one after 64
// records at the latest.
constexpr std::size_t next_checkpoint_within = 80;

std::uint64_t up_to_checkpoint(const Archive& kept, const Span& span) {
  const auto last = kept.find({.device = span.device, .first = span.last, .limit = next_checkpoint_within});
  for (const auto& r : last) {
    if (proof::is_checkpoint(r.body)) return r.sequence;
  }
  return span.last;
}

std::vector<Span> spans_of(const Archive& kept, const Scope& scope) {
  if (scope.bed == 0) {
    const std::uint64_t newest = kept.last_sequence(scope.jack);
    return {{scope.jack, std::max<std::uint64_t>(scope.first, 1),
             scope.last == 0 ? newest : std::min(scope.last, newest)}};
  }
  auto spans = kept.spans(scope.bed);
  for (auto& s : spans) s.last = up_to_checkpoint(kept, s);
  return spans;
}

std::optional<proof::Head> before(const Archive& kept, std::uint32_t device, std::uint64_t first) {
  if (first <= 1) return {};
  const auto found = kept.find({.device = device, .last = first - 1, .newest_first = true, .limit = 1});
  if (found.empty()) return {};
  const auto seal = proof::seal_of(found[0].body);
  if (!seal) return {};
  proof::Head h;
  h.device = device;
  h.first = h.sequence = found[0].sequence;
  h.epoch = seal->seal.epoch;
  h.ends_epoch = proof::is_checkpoint(found[0].body);
  h.link = seal->seal.link;
  h.tag = seal->seal.tag;
  return h;
}

// From the first record of the archive on, as the keys come one out of the other; then those of these
// records.
std::map<std::uint32_t, proto::Key> closed_keys(const Archive& kept, const Data& data, std::uint32_t device,
                                                const proof::HostKey& key) {
  proof::Question q;
  q.device = device;
  q.host = key;
  kept.each({.device = device}, [&](const archive::StoredRecord& r) {
    q.records.push_back({r.sequence, r.boot, r.tick_ms, r.body});
  });
  const auto all = proof::verify(q).closed_keys;
  std::map<std::uint32_t, proto::Key> out;
  for (const auto& r : data.records) {
    const auto seal = r.device == device ? proof::seal_of(r.body) : std::nullopt;
    if (seal && all.contains(seal->seal.epoch)) out[seal->seal.epoch] = all.at(seal->seal.epoch);
  }
  return out;
}

// Instructions of these pulls, and those that the bed still waits for.
void take_instructions(const Archive& kept, const Scope& scope, const std::vector<wire::PullRecord>& pulls,
                       Data& d) {
  std::map<std::pair<std::uint32_t, std::uint32_t>, archive::SentInstruction> found;
  for (const auto& p : pulls) {
    if (const auto i = kept.instruction(p.jack_serial(), p.instruction()); i)
      found.insert({{i->device, i->id}, *i});
  }
  if (scope.bed != 0) {
    for (const auto& i : kept.instructions(scope.bed)) found.insert({{i.device, i.id}, i});
  }
  for (const auto& [key, i] : found) d.instructions.push_back(i);
}

void take_tables(const Archive& kept, std::uint32_t device, Data& d) {
  std::set<std::uint32_t> revisions;
  for (const auto& h : kept.history(device)) {
    d.history.push_back(h);
    if (h.act == archive::Act::loaded) revisions.insert(h.revision);
  }
  for (const auto revision : revisions) {
    if (const auto t = kept.table(device, revision); t) d.tables.push_back(*t);
  }
}

// An entry about another bed or jack is here by its digests alone.
void take_entries(const Archive& kept, const std::set<std::uint32_t>& beds, Data& d) {
  for (auto e : kept.entries()) {
    const bool of_jack = std::ranges::find(d.jacks, e.device, &Jack::serial) != d.jacks.end();
    e.withheld = !(e.bed != 0 ? beds.contains(e.bed) : e.device == 0 || of_jack);
    d.entries.push_back(e);
  }
}

void take_documents(const Archive& kept, Data& d) {
  std::set<std::string> digests;
  for (const auto& i : d.instructions) digests.insert(i.plan_sha256_hex);
  for (const auto& t : d.tables) digests.insert(gauge::source_of(t.json, "archive").sha256_hex);
  for (const auto& digest : digests) {
    if (const auto doc = kept.document(digest); doc) d.documents.push_back(*doc);
  }
}

}  // namespace

Data collect(const Archive& kept, const Scope& scope, const Host& host) {
  Data d;
  d.host = host.id;
  d.scope = scope;
  std::vector<wire::PullRecord> pulls;
  std::set<std::uint32_t> beds;
  if (scope.bed != 0) beds.insert(scope.bed);
  for (const Span& span : spans_of(kept, scope)) {
    Jack jack{.serial = span.device, .before = before(kept, span.device, span.first)};
    if (const auto held = proof::load_head(host.keys_folder, span.device); held) jack.head = held->head;
    d.jacks.push_back(jack);
    kept.each({.device = span.device, .first = span.first, .last = span.last},
              [&](const archive::StoredRecord& r) {
                d.records.push_back(r);
                wire::Record said;
                if (!said.ParseFromString(r.body) || !said.has_pull()) return;
                if (scope.bed != 0 && said.pull().bed() != scope.bed) return;
                pulls.push_back(said.pull());
                beds.insert(said.pull().bed());
              });
    if (host.key) d.jacks.back().tag_keys = closed_keys(kept, d, span.device, *host.key);
    take_tables(kept, span.device, d);
    for (const auto& s : kept.seen(span.device)) d.seen.push_back(s);
  }
  if (d.records.empty())
    throw refused(
        "the archive holds no record of what was asked for; fetch the log, or ask for another bed or jack");
  take_instructions(kept, scope, pulls, d);
  take_entries(kept, beds, d);
  take_documents(kept, d);
  return d;
}

}  // namespace strandproof::host::bundle
