#include "host-tool/bundle/prove.hpp"

#include <fmt/core.h>

#include <algorithm>

#include "host-tool/archive/entries.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/prove_tables.hpp"
#include "host-tool/proof/head_file.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::bundle {
namespace {

proof::Question question_of(const Data& data, const Jack& jack) {
  proof::Question q;
  q.device = jack.serial;
  q.records = records_of(data, jack.serial);
  q.held = jack.before;
  q.tag_keys = jack.tag_keys;
  return q;
}

void say_tags(const Data& data, const Jack& jack, const proof::Report& r, Proof& p) {
  if (r.tags_checked != 0)
    p.holds.push_back(fmt::format(
        "jack {}: the tags of {} records fit the keys of their closed epochs, which host {:016x} gives: by "
        "that host's word they were made before those epochs ended",
        jack.serial, r.tags_checked, data.host));
  if (r.tags_unknown != 0)
    p.open.push_back(
        fmt::format("jack {}: the tags of {} records are not checked: their keys are not in this file",
                    jack.serial, r.tags_unknown));
}

void say_signed(const Jack& jack, const proof::Report& r, Proof& p) {
  if (r.checkpoints == 0) {
    p.open.push_back(fmt::format(
        "jack {}: no signed checkpoint is among its records: the jack stands for none of them", jack.serial));
    return;
  }
  const std::uint64_t up_to = r.head->signed_up_to;
  p.holds.push_back(
      fmt::format("jack {}: {} checkpoints are signed with the jack's key {}; it stands for every record up "
                  "to {}",
                  jack.serial, r.checkpoints, proof::fingerprint_text(*r.head->public_key), up_to));
  // The checkpoint itself is the record behind what it covers.
  if (r.head->sequence > up_to + 1)
    p.open.push_back(
        fmt::format("jack {}: records {} to {} came after its last signature here; their links alone hold "
                    "them",
                    jack.serial, up_to + 1, r.head->sequence));
}

// Where the log was asked for from its begin, or to its newest record, the head says which those are.
void prove_head(const Data& data, const Jack& jack, std::uint64_t first, std::uint64_t last, Proof& p) {
  const std::string fault = against_head(data, *jack.head, "the head in this file");
  if (!fault.empty()) p.faults.push_back(fault);
  const bool by_jack = data.scope.bed == 0;
  if (by_jack && data.scope.first == 0 && jack.head->first < first)
    p.faults.push_back(
        fmt::format("jack {}: record {} is the first one here, and its log began with record {}", jack.serial,
                    first, jack.head->first));
  if (by_jack && data.scope.last == 0 && jack.head->sequence > last)
    p.faults.push_back(
        fmt::format("jack {}: record {} is the last one here, and the head in this file is of record {}",
                    jack.serial, last, jack.head->sequence));
}

void prove_chain(const Data& data, const Jack& jack, Proof& p) {
  const proof::Question q = question_of(data, jack);
  if (q.records.empty()) {
    p.open.push_back(fmt::format("jack {}: no record of it is here", jack.serial));
    return;
  }
  const proof::Report r = proof::verify(q);
  for (const auto& f : r.findings)
    p.faults.push_back(
        fmt::format("jack {}, record {}: {}: {}", jack.serial, f.sequence, proof::name_of(f.kind), f.what));
  if (!r.findings.empty()) return;
  p.holds.push_back(fmt::format(
      "jack {}: {} records, {} to {}, each sealed over the one before: none was changed, taken out, "
      "put in or moved",
      jack.serial, r.records, q.records.front().sequence, q.records.back().sequence));
  if (r.begins_at)
    p.open.push_back(fmt::format("jack {}: record {} is the first one here, and nothing before it proves it",
                                 jack.serial, *r.begins_at));
  say_signed(jack, r, p);
  say_tags(data, jack, r, p);
  if (!jack.head) {
    p.open.push_back(fmt::format("jack {}: the host held no head of its log", jack.serial));
    return;
  }
  prove_head(data, jack, q.records.front().sequence, q.records.back().sequence, p);
  p.holds.push_back(proof::head_line(*jack.head));
}

// What the jack's own record says of its instruction, number by number. The jack keeps lengths as
// floating-point metres: the last micrometre is not kept.
bool same_pull(const wire::PullInstruction& i, const wire::PullRecord& r) {
  const auto near = [](std::uint32_t a, std::uint32_t b) { return std::max(a, b) - std::min(a, b) <= 1; };
  return i.id() == r.instruction() && i.bed() == r.bed() && i.position() == r.position() &&
         i.reel() == r.reel() && i.bed_name() == r.bed_name() && i.strand_name() == r.strand_name() &&
         i.initial_n() == r.initial_n() && i.seated_n() == r.seated_n() && i.jack_n() == r.jack_n() &&
         i.limit_n() == r.limit_n() && near(i.elongation_um(), r.elongation_plan_um()) &&
         near(i.elongation_min_um(), r.elongation_min_um()) &&
         near(i.elongation_max_um(), r.elongation_max_um()) &&
         near(i.force_window_ppm(), r.force_window_ppm());
}

void prove_instruction(const Data& data, const archive::SentInstruction& sent, Proof& p) {
  wire::PullInstruction said;
  if (!said.ParseFromString(sent.body) || said.id() != sent.id || said.bed() != sent.bed ||
      said.position() != sent.position) {
    p.faults.push_back(fmt::format("instruction {} of jack {}: its bytes are not those of that instruction",
                                   sent.id, sent.device));
    return;
  }
  int records = 0;
  for (const auto& stored : data.records) {
    wire::Record r;
    if (stored.device != sent.device || !r.ParseFromString(stored.body) || !r.has_pull() ||
        r.pull().instruction() != sent.id)
      continue;
    ++records;
    if (!same_pull(said, r.pull()))
      p.faults.push_back(
          fmt::format("instruction {} of jack {}: is not what the jack's record {} says was pulled", sent.id,
                      sent.device, stored.sequence));
  }
  if (records == 0)
    p.open.push_back(fmt::format("instruction {} of jack {}: no record here is of it", sent.id, sent.device));
}

void prove_plans(const Data& data, Proof& p) {
  for (const auto& i : data.instructions) {
    prove_instruction(data, i, p);
    const bool kept = std::ranges::find(data.documents, i.plan_sha256_hex, &archive::Document::sha256_hex) !=
                      data.documents.end();
    if (!kept)
      p.open.push_back(
          fmt::format("instruction {} of jack {}: the plan that it came from is not kept", i.id, i.device));
  }
  if (!data.instructions.empty() && p.faults.empty())
    p.holds.push_back(
        fmt::format("{}: forces and lengths as the jacks recorded them with their pulls",
                    counted(static_cast<std::int64_t>(data.instructions.size()), "instruction")));
}

void prove_documents(const Data& data, Proof& p) {
  for (const auto& d : data.documents) {
    if (sha256_hex(d.text) != d.sha256_hex)
      p.faults.push_back(fmt::format("kept file {}: has other bytes than its digest says", shown(d.name)));
  }
}

// A sign-off names the pulls that it was for by the digest of their bytes.
void prove_sign_off(const Data& data, const archive::Entry& e, Proof& p) {
  std::string bodies;
  std::uint64_t pulls = 0;
  for (const auto& stored : data.records) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_pull() || r.pull().bed() != e.bed || pulls == e.outcome)
      continue;
    bodies += stored.body;
    ++pulls;
  }
  if (pulls != e.outcome) {
    p.open.push_back(fmt::format("entry {}: was for {} pulls of bed {}, of which {} are here", e.number,
                                 e.outcome, e.bed, pulls));
  } else if (sha256_hex(bodies) != e.records_digest_hex) {
    p.faults.push_back(
        fmt::format("entry {}: the sign-off of bed {} was for other pulls than those here", e.number, e.bed));
  }
}

void prove_entries(const Data& data, Proof& p) {
  auto chain = data.entries;
  std::string before = archive::chain_begin();
  for (auto& e : chain) {
    e.previous_hex = before;
    before = e.digest_hex;
  }
  if (const auto fault = archive::chain_fault(chain); !fault.empty()) {
    p.faults.push_back("what people entered: " + fault);
    return;
  }
  for (const auto& e : data.entries) {
    if (!e.withheld && e.kind == archive::EntryKind::sign_off) prove_sign_off(data, e, p);
  }
  if (chain.empty()) return;
  const auto withheld = std::ranges::count(data.entries, true, &archive::Entry::withheld);
  p.holds.push_back(
      fmt::format("entries 1 to {} of what people entered in this archive follow from one another; {} of "
                  "them are about something "
                  "else and here by their digests alone; head of that chain {}",
                  chain.size(), withheld, chain.back().digest_hex));
}

}  // namespace

std::vector<proof::Record> records_of(const Data& data, std::uint32_t jack) {
  std::vector<proof::Record> out;
  for (const auto& r : data.records) {
    if (r.device == jack) out.push_back({r.sequence, r.boot, r.tick_ms, r.body});
  }
  return out;
}

std::optional<proto::Key> key_of(const Data& data, std::uint32_t jack) {
  for (const auto& r : data.records) {
    if (const auto c = r.device == jack ? proof::checkpoint_of(r.body) : std::nullopt; c)
      return c->public_key;
  }
  return {};
}

std::string against_head(const Data& data, const proof::Head& head, const std::string& whose) {
  const auto key = key_of(data, head.device);
  if (key && head.public_key && *key != *head.public_key)
    return fmt::format("jack {}: its checkpoints are signed with key {}; {} has {}", head.device,
                       proof::fingerprint_text(*key), whose, proof::fingerprint_text(*head.public_key));
  for (const auto& r : data.records) {
    const auto seal = proof::seal_of(r.body);
    if (r.device == head.device && r.sequence == head.sequence && seal && seal->seal.link != head.link)
      return fmt::format("jack {}: record {} is another one than {} was taken from", head.device, r.sequence,
                         whose);
  }
  return {};
}

Proof prove(const Data& data) {
  Proof p;
  for (const Jack& jack : data.jacks) prove_chain(data, jack, p);
  prove_documents(data, p);
  prove_tables(data, p);
  prove_plans(data, p);
  prove_entries(data, p);
  return p;
}

}  // namespace strandproof::host::bundle
