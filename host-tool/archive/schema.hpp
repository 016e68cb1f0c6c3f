// The archive's tables, as statements that run in their order. Schema 1 is never changed again; what a later
// schema adds stands apart, so that a new archive and a migrated one are made by the same statements.
#pragma once

namespace strandproof::host::archive {

inline constexpr const char* schema_1[] = {
    "create table archive_schema (version integer not null)",
    "create table record (device bigint not null, boot bigint not null, sequence bigint not null, "
    "tick_ms bigint not null, body_hex text not null, primary key (device, boot, sequence))",
    "create table instruction (device bigint not null, id bigint not null, bed bigint not null, "
    "position bigint not null, body_hex text not null, sent_s bigint not null, primary key (device, id))",
    "create table gauge_table (device bigint not null, revision bigint not null, sha256 text not null, "
    "json text not null, loaded_s bigint not null, primary key (device, revision))"};

// What was loaded under schema 1 enters the history without who and why, which nobody wrote down then. The
// triggers keep every table as it was written, whoever holds the file open.
inline constexpr const char* schema_2_of_1[] = {
    "create table history (id integer primary key, device bigint not null, act bigint not null, "
    "at_s bigint not null, by_role text not null, why text not null, revision bigint not null, "
    "sha256 text not null, key_fingerprint text not null, last_record bigint not null, "
    "outcome bigint not null, details text not null)",
    "create table sign_off (id integer primary key, bed bigint not null, by_role text not null, "
    "at_s bigint not null, pulls bigint not null, last_record bigint not null, digest text not null)",
    "insert into history (device, act, at_s, by_role, why, revision, sha256, key_fingerprint, last_record, "
    "outcome, details) select device, 1, loaded_s, 'not recorded', 'loaded under schema 1', revision, "
    "sha256, "
    "'', 0, 0, '' from gauge_table order by loaded_s, revision",
    "create trigger record_stays before update on record begin select raise(abort, 'append only'); end",
    "create trigger record_kept before delete on record begin select raise(abort, 'append only'); end",
    "create trigger instruction_stays before update on instruction begin select raise(abort, 'append only'); "
    "end",
    "create trigger instruction_kept before delete on instruction begin select raise(abort, 'append only'); "
    "end",
    "create trigger gauge_table_stays before update on gauge_table begin select raise(abort, 'append only'); "
    "end",
    "create trigger gauge_table_kept before delete on gauge_table begin select raise(abort, 'append only'); "
    "end",
    "create trigger history_stays before update on history begin select raise(abort, 'append only'); end",
    "create trigger history_kept before delete on history begin select raise(abort, 'append only'); end",
    "create trigger sign_off_stays before update on sign_off begin select raise(abort, 'append only'); end",
    "create trigger sign_off_kept before delete on sign_off begin select raise(abort, 'append only'); end"};

}  // namespace strandproof::host::archive
