#include "host-tool/bundle/prove_tables.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <exception>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/proof/head_file.hpp"
#include "host-tool/proof/table_signature.hpp"
#include "host-tool/report/table_proof.hpp"

namespace strandproof::host::bundle {
namespace {

std::string name_of(const archive::LoadedTable& t) {
  return fmt::format("gauge table revision {} of jack {}", t.revision, t.device);
}

const archive::HistoryEntry* loaded_entry(const Data& data, const archive::LoadedTable& t) {
  const auto found = std::ranges::find_if(data.history, [&](const archive::HistoryEntry& h) {
    return h.device == t.device && h.act == archive::Act::loaded && h.revision == t.revision;
  });
  return found == data.history.end() ? nullptr : &*found;
}

// Digest and signature over the bytes that the jack took.
void prove_bytes(const Data& data, const archive::LoadedTable& t, const gauge::HeldTable& held, Proof& p) {
  const std::string bytes = check::held_bytes(held, t.revision);
  const auto* entry = loaded_entry(data, t);
  if (held.jack_serial != t.device || sha256_hex(bytes) != t.sha256_hex ||
      (entry != nullptr && !entry->sha256_hex.empty() && entry->sha256_hex != t.sha256_hex)) {
    p.faults.push_back(name_of(t) + ": its points and dates are not those whose digest was loaded");
    return;
  }
  const auto signature = entry == nullptr ? std::nullopt : proof::table_signature_of(entry->details);
  if (!signature) {
    p.open.push_back(name_of(t) + ": its signature was not kept when it was loaded");
  } else if (!proof::signature_good(*signature, bytes)) {
    p.faults.push_back(name_of(t) + ": its signature is not that of the key that it names");
  } else {
    p.holds.push_back(
        fmt::format("{}: signed with the table key {}", name_of(t), proof::fingerprint_text(signature->key)));
  }
}

// An imported table rests on its laboratory's pairs, which are kept and not worked out again.
void prove_runs(const Data& data, const archive::LoadedTable& t, Proof& p) {
  const auto source = gauge::source_of(t.json, name_of(t));
  const auto runs = std::ranges::find(data.documents, source.sha256_hex, &archive::Document::sha256_hex);
  if (runs == data.documents.end()) {
    p.open.push_back(name_of(t) + ": what it was made of is not kept");
  } else if (gauge::is_imported(t.json, name_of(t))) {
    p.open.push_back(name_of(t) +
                     ": imported; the pairs of its laboratory are here and prove nothing by themselves");
  } else {
    (void)report::prove_table({runs->text, runs->name}, {t.json, name_of(t)});
    p.holds.push_back(name_of(t) + ": made again from the runs in this file, it is the same");
  }
}

}  // namespace

std::optional<std::string> signer_of(const Data& data, const archive::LoadedTable& t) {
  const auto* entry = loaded_entry(data, t);
  const auto signature = entry == nullptr ? std::nullopt : proof::table_signature_of(entry->details);
  return signature ? std::optional{proof::fingerprint_text(signature->key)} : std::nullopt;
}

void prove_tables(const Data& data, Proof& p) {
  for (const auto& t : data.tables) {
    try {
      prove_bytes(data, t, gauge::from_json(t.json, name_of(t)), p);
      prove_runs(data, t, p);
    } catch (const std::exception& problem) {  // also what the JSON library says of a field of another kind
      p.faults.push_back(name_of(t) + ": " + problem.what());
    }
  }
}

}  // namespace strandproof::host::bundle
