#include "host-tool/fetch/guard.hpp"

#include <fmt/core.h>

#include "host-tool/base/problem.hpp"

namespace strandproof::host::fetch {

std::vector<proof::Record> stored_since(const archive::Archive& archive, std::uint32_t device,
                                        std::uint64_t from) {
  std::vector<proof::Record> out;
  archive::Filter filter;
  filter.device = device;
  filter.first = from;
  archive.each(filter, [&out](const archive::StoredRecord& r) { out.push_back(proof_record(r)); });
  return out;
}

proof::Record proof_record(const archive::StoredRecord& r) {
  return {.sequence = r.sequence, .boot = r.boot, .tick_ms = r.tick_ms, .body = r.body};
}

proof::HostKey proof_key(const proto::HostKeys& keys) {
  return {.host_id = keys.host_id, .chain_key = proto::chain_key(keys.key)};
}

std::string line_of(const proof::Finding& f) {
  return fmt::format("record {}: {}: {}", f.sequence, proof::name_of(f.kind), f.what);
}

Guard::Guard(const std::string& keys_folder, const proto::HostKeys& keys, archive::Archive& archive,
             std::uint32_t device)
    : keys_folder_{keys_folder}, device_{device}, follower_{device, {}, {}} {
  const auto held = proof::load_head(keys_folder, device);
  held_ = held ? held->head.sequence : 0;
  replaced_ = held ? held->replaced : std::vector<std::string>{};
  follower_ = proof::Follower{device, held ? std::optional{held->head} : std::nullopt, proof_key(keys)};
  // What a program that was ended has stored without its head.
  refuse(follower_.add(stored_since(archive, device, held ? held->head.sequence : 0)));
}

void Guard::refuse(const std::vector<proof::Finding>& findings) const {
  if (!findings.empty()) {
    throw refused(
        fmt::format("the log of jack {} does not extend the one that is held: {}; nothing of it is stored; "
                    "keep the archive, find out why, and if the controller was replaced see 'log accept'",
                    device_, line_of(findings.front())));
  }
}

void Guard::check(const std::vector<archive::StoredRecord>& batch) {
  std::vector<proof::Record> records;
  for (const auto& r : batch) {
    records.push_back(proof_record(r));
  }
  refuse(follower_.add(std::move(records)));
}

void Guard::keep() {
  if (follower_.head() && follower_.head()->sequence >= held_) {
    held_ = follower_.head()->sequence;
    proof::save_head(keys_folder_, {*follower_.head(), replaced_});
  }
}

void Guard::finish() const {
  refuse(follower_.finish());
}

}  // namespace strandproof::host::fetch
