// The archive's tables, as statements that run in their order on both engines. A schema that main once had is
// kept as data of the tests; here stands the newest alone, and what changes an older file into it
// (schema.cpp).
#pragma once

namespace strandproof::host::archive {

inline constexpr int schema_version = 5;

// `record`: body_hex is what the jack sent; every column from `kind` on is read out of it (reading.hpp), so
// that it can be found, and proves nothing by itself. A sequence is used once for ever by a jack, whatever
// its boot: the key is stronger than (device, boot, sequence).
inline constexpr const char* schema_tables[] = {
    "create table archive_schema (version integer not null)",
    "create table record (device bigint not null, sequence bigint not null, boot bigint not null, "
    "tick_ms bigint not null, kind bigint not null, code bigint not null, cause bigint not null, "
    "utc_s bigint not null, instruction bigint not null, bed bigint not null, position bigint not null, "
    "reel bigint not null, revision bigint not null, stiffness bigint not null, strand text not null, "
    "body_hex text not null, primary key (device, sequence))",
    "create table instruction (device bigint not null, id bigint not null, bed bigint not null, "
    "position bigint not null, body_hex text not null, sent_s bigint not null, stiffness bigint not null, "
    "plan_sha256 text not null, primary key (device, id))",
    "create table gauge_table (device bigint not null, revision bigint not null, sha256 text not null, "
    "json text not null, loaded_s bigint not null, primary key (device, revision))",
    "create table history (id bigint primary key, device bigint not null, act bigint not null, "
    "at_s bigint not null, by_role text not null, why text not null, revision bigint not null, "
    "sha256 text not null, key_fingerprint text not null, last_record bigint not null, "
    "outcome bigint not null, details text not null)",
    // What people add, chained: digest = SHA-256 over the digest before and that of the content
    // (entries.hpp).
    "create table entry (number bigint primary key, kind bigint not null, at_s bigint not null, "
    "by_role text not null, device bigint not null, bed bigint not null, sequence bigint not null, "
    "outcome bigint not null, records_digest text not null, words text not null, content text not null, "
    "previous text not null, digest text not null)",
    // Files that a table or an instruction was made of, each once.
    "create table document (sha256 text primary key, name text not null, kept_s bigint not null, "
    "body text not null)",
    // What a jack said of itself when it was met, where it differs from the time before.
    "create table jack_seen (id bigint primary key, device bigint not null, at_s bigint not null, "
    "build text not null, origin bigint not null, protocol text not null, settings_revision bigint not null, "
    "table_revision bigint not null, clock_quality bigint not null)",
    // Of each record that was deleted after the minimum age: its name and its digest stay.
    "create table removed (device bigint not null, sequence bigint not null, boot bigint not null, "
    "sha256 text not null, entry bigint not null, primary key (device, sequence))"};

// As jacks know this archive, among the copies of their logs: one row. A copy that is made by backup or
// restore has an identity of its own, for it may hold less.
inline constexpr const char* schema_identity =
    "create table archive_identity (id_hex text not null, name text not null)";

// Where two indexes serve a question alike, SQLite takes the one that was made later: an older archive gets
// all of them anew in this order, so that it is asked as a new one is.
struct Index {
  const char* name;
  const char* on;
};

inline constexpr Index schema_indexes[] = {
    {"record_code", "record (kind, code, device, utc_s)"},
    {"record_date", "record (device, utc_s, sequence, kind)"},
    {"record_bed", "record (bed, device, sequence) where kind = 2"},
    {"record_reel", "record (reel, device, sequence) where kind = 2"},
    {"record_strand", "record (strand, device, utc_s) where kind = 2"},
    {"record_table", "record (device, revision, sequence, instruction, stiffness) where kind = 2"},
    {"record_cause", "record (cause, device, utc_s) where cause <> 0"},
    {"record_year", "record (device, utc_s, code, instruction, stiffness) where kind = 2"},
    // Event 19 of the catalogue: the bed was detensioned.
    {"record_detensioned", "record (device, sequence) where kind = 1 and code = 19"},
    {"instruction_bed", "instruction (bed, device, id)"},
    {"history_device", "history (device, id)"},
    {"entry_bed", "entry (bed, number)"}};

// Nothing that was written is changed or taken out, whoever holds the archive open. The one exception:
// records whose name and digest stand in `removed`.
inline constexpr const char* kept_tables[] = {"record", "instruction", "gauge_table", "history",
                                              "entry",  "document",    "jack_seen",   "removed"};

}  // namespace strandproof::host::archive
