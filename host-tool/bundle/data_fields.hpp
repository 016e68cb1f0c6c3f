// The fields of the data block, each named once for writing and reading alike. Private to data.cpp.
#pragma once

#include "host-tool/bundle/data.hpp"

namespace strandproof::host::bundle {

template <class Io>
void fields(Io& io, Scope& s) {
  io("bed", s.bed);
  io("jack", s.jack);
  io("first", s.first);
  io("last", s.last);
}

template <class Io>
void fields(Io& io, proof::Head& h) {
  io("first", h.first);
  io("sequence", h.sequence);
  io("epoch", h.epoch);
  io("ends_epoch", h.ends_epoch);
  io.bytes("link", h.link);
  io.bytes("tag", h.tag);
  io.maybe_bytes("public_key", h.public_key);
  io("signed_up_to", h.signed_up_to);
}

template <class Io>
void fields(Io& io, Jack& j) {
  io("serial", j.serial);
  io.maybe("before", j.before);
  io.maybe("head", j.head);
  if (j.before) j.before->device = j.serial;
  if (j.head) j.head->device = j.serial;
  io.keys("tag_keys", j.tag_keys);
}

template <class Io>
void fields(Io& io, archive::StoredRecord& r) {
  io("jack", r.device);
  io("sequence", r.sequence);
  io("boot", r.boot);
  io("tick_ms", r.tick_ms);
  io.raw("body", r.body);
}

template <class Io>
void fields(Io& io, archive::SentInstruction& i) {
  io("jack", i.device);
  io("id", i.id);
  io("bed", i.bed);
  io("position", i.position);
  io("sent_s", i.sent_s);
  io("plan_sha256", i.plan_sha256_hex);
  io.raw("body", i.body);
}

template <class Io>
void fields(Io& io, archive::LoadedTable& t) {
  io("jack", t.device);
  io("revision", t.revision);
  io("sha256", t.sha256_hex);
  io("loaded_s", t.loaded_s);
  io.raw("file", t.json);
}

template <class Io>
void fields(Io& io, archive::HistoryEntry& h) {
  io("jack", h.device);
  io("act", h.act);
  io("at_s", h.at_s);
  io("by", h.by);
  io("why", h.why);
  io("revision", h.revision);
  io("sha256", h.sha256_hex);
  io("key_fingerprint", h.key_fingerprint);
  io("last_record", h.last_record);
  io("outcome", h.outcome);
  io("details", h.details);
}

// The digest before and the digest of a withheld entry follow from its place and its content's digest.
template <class Io>
void fields(Io& io, archive::Entry& e) {
  io("number", e.number);
  io("withheld", e.withheld);
  io("content", e.content_hex);
  io("digest", e.digest_hex);
  if (e.withheld) return;
  io("kind", e.kind);
  io("at_s", e.at_s);
  io("by", e.by);
  io("jack", e.device);
  io("bed", e.bed);
  io("sequence", e.sequence);
  io("outcome", e.outcome);
  io("records_digest", e.records_digest_hex);
  io("words", e.words);
}

template <class Io>
void fields(Io& io, archive::Document& d) {
  io("sha256", d.sha256_hex);
  io("name", d.name);
  io("kept_s", d.kept_s);
  io.raw("body", d.text);
}

template <class Io>
void fields(Io& io, archive::JackSeen& s) {
  io("jack", s.device);
  io("at_s", s.at_s);
  io("build", s.build);
  io("origin", s.origin);
  io("protocol", s.protocol);
  io("settings_revision", s.settings_revision);
  io("table_revision", s.table_revision);
}

}  // namespace strandproof::host::bundle
