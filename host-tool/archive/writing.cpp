#include "host-tool/archive/writing.hpp"

#include "host-tool/archive/reading.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::archive {
namespace {

constexpr const char* insert_record =
    "insert into record (device, sequence, boot, tick_ms, kind, code, cause, utc_s, instruction, bed, "
    "position, reel, revision, stiffness, strand, body_hex) values (:a, :b, :c, :d, :e, :f, :g, :h, :i, :j, "
    ":k, :l, :m, :n, :o, :p) on conflict (device, sequence) do nothing";
constexpr std::size_t record_numbers = 14;
constexpr std::size_t record_values = 16;

}  // namespace

RecordWriter::RecordWriter(Store& store) : statement_{store, insert_record, record_values} {}

bool RecordWriter::insert(const StoredRecord& r) {
  const Columns c = columns_of(r.body);
  const long long numbers[record_numbers] = {r.device,
                                             stored(r.sequence),
                                             r.boot,
                                             stored(r.tick_ms),
                                             static_cast<long long>(c.kind),
                                             c.code,
                                             c.cause,
                                             c.utc_s,
                                             c.instruction,
                                             c.bed,
                                             c.position,
                                             c.reel,
                                             c.revision,
                                             c.stiffness};
  for (std::size_t i = 0; i < record_numbers; ++i) statement_.set(i, numbers[i]);
  statement_.set(record_numbers, c.strand);
  statement_.set(record_numbers + 1, to_hex(r.body));
  return statement_.run() == 1;
}

void insert(Store& store, const SentInstruction& i) {
  store.run(
      "insert into instruction (device, id, bed, position, body_hex, sent_s, stiffness, plan_sha256) values "
      "(:d, :i, :b, :p, :h, :s, :k, :l)",
      {i.device, i.id, i.bed, i.position, to_hex(i.body), i.sent_s, planned_stiffness(i.body),
       i.plan_sha256_hex});
}

void insert(Store& store, const HistoryEntry& e) {
  store.run(
      "insert into history (id, device, act, at_s, by_role, why, revision, sha256, key_fingerprint, "
      "last_record, outcome, details) values ((select coalesce(max(id), 0) + 1 from history), :d, :a, :t, "
      ":b, :w, :r, :h, :k, :l, :o, :x)",
      {e.device, static_cast<long long>(e.act), e.at_s, e.by, e.why, e.revision, e.sha256_hex,
       e.key_fingerprint, stored(e.last_record), e.outcome, e.details});
}

}  // namespace strandproof::host::archive
