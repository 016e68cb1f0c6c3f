#include "firmware/app/table_shelf.hpp"

#include <algorithm>

#include "firmware/app/from_wire.hpp"
#include "firmware/app/table_slot.hpp"
#include "firmware/link/strict.hpp"

namespace strandproof::app {
namespace {

using control::Refusal;
using Bytes = std::span<const std::uint8_t>;

constexpr std::uint64_t day_s = 86'400;
constexpr std::uint64_t validity_max_s = 400 * day_s;  // common practice: a year, and some weeks of grace
constexpr std::uint32_t revision_step_max = 1000;      // a slip of the hand must not use up the numbers
constexpr std::uint32_t reason_last = 5;               // of REASON in the catalogue

link::Code code_of(Refusal r) {
  return static_cast<link::Code>(r);
}

void describe(const strandproof_wire_GaugeTable& t, strandproof_wire_TableSlot& to) {
  to.revision = t.revision;
  to.calibrated_s = t.calibrated_s;
  to.due_s = t.due_s;
  to.class_tenths = t.class_tenths;
  to.uncertainty_ppm = t.uncertainty_ppm;
}

}  // namespace

// ---- power on --------------------------------------------------------------------------------------------

void TableShelf::restore() {
  (void)vault_.load(record::CellId::table_keys, keys_);
  (void)vault_.load(record::CellId::active_table, active_);
  (void)vault_.load(record::CellId::table_marks, marks_);
  (void)vault_.load(record::CellId::table_pulls, pulls_);
  (void)vault_.load(record::CellId::table_floor, floor_);
  control::GaugeTable table;
  const unsigned slot = active_.slot & 1U;
  slots_[1U - slot].fault = verify(1U - slot, table);
  slots_[slot].fault = verify(slot, table);
  fault_ = Refusal::none;
  if (active_.revision == 0) {
    return;
  }
  const std::uint32_t found = slots_[slot].info.revision;
  fault_ = slots_[slot].fault;
  if (fault_ == Refusal::no_table || (fault_ == Refusal::none && found != active_.revision)) {
    fault_ = Refusal::table_damaged;
  }
  if (fault_ == Refusal::none && found < floor_ && active_.undone == 0) {
    fault_ = Refusal::table_rolled_back;  // H21: an older table that nobody has gone back to
  }
  if (fault_ == Refusal::none) {
    fault_ = controller_.install(table);
    scrub_.start(controller_.table());
    raise_floor();
  }
}

// A cut may have come between the switch and the floor: the floor is caught up with at the next power on.
void TableShelf::raise_floor() {
  if (active_.revision > floor_ && vault_.save(record::CellId::table_floor, active_.revision)) {
    floor_ = active_.revision;
  }
}

// What lies in a slot, as it lies in flash: form, key, signature. The table comes back in `table`.
Refusal TableShelf::verify(unsigned slot, control::GaugeTable& table) {
  strandproof_wire_TableSlot& info = slots_[slot].info;
  info = strandproof_wire_TableSlot_init_zero;
  std::array<std::uint8_t, slot_max> raw{};
  const std::uint16_t n = vault_.cells().read(cell_of(slot), raw);
  if (n <= bytes_at) {
    return n == 0 ? Refusal::no_table : Refusal::table_damaged;
  }
  const Bytes bytes{raw.data() + bytes_at, n - bytes_at};
  strandproof_wire_GaugeTable message = strandproof_wire_GaugeTable_init_zero;
  if (!link::is_strict_table(bytes) || !decode_table(bytes, message) ||
      from_wire(message, table) != Refusal::none) {
    return Refusal::table_damaged;
  }
  describe(message, info);
  std::array<std::uint8_t, crypto::digest_size> digest{};
  crypto::sha256(bytes, digest);
  put_bytes(digest, info.sha256);
  info.length = static_cast<std::uint32_t>(bytes.size());
  link::Fingerprint mark{};
  std::copy_n(raw.begin() + fingerprint_at, mark.size(), mark.begin());
  put_bytes(mark, info.key_fingerprint);
  for (const link::TableKey& k : keys_) {
    if (k.name[0] != '\0' && link::fingerprint_of(k.key) == mark) {
      const std::span<const std::uint8_t, crypto::signature_size> signature{raw.data(),
                                                                            crypto::signature_size};
      return crypto::ed25519_verify(signature, bytes, k.key) ? Refusal::none : Refusal::table_damaged;
    }
  }
  return Refusal::table_key_gone;
}

// ---- from the link ---------------------------------------------------------------------------------------

const link::TableKey* TableShelf::signed_by(
    Bytes bytes, std::span<const std::uint8_t, crypto::signature_size> signature) const {
  for (const link::TableKey& k : keys_) {
    if (k.name[0] != '\0' && crypto::ed25519_verify(signature, bytes, k.key)) {
      return &k;
    }
  }
  return nullptr;
}

// Why a well-signed table may not become the active one.
link::Code TableShelf::objection(const strandproof_wire_GaugeTable& t, const control::GaugeTable& table,
                                 std::uint64_t now_s) const {
  if (t.revision <= floor_ || t.revision <= active_.revision) {
    return link::Code::table_older;
  }
  if (t.revision - floor_ > revision_step_max) {
    return link::Code::table_revision_far;
  }
  // The clock is a lower bound: where it lags by weeks of storage, it must be set before the table is loaded.
  const bool future = now_s != 0 && t.calibrated_s > now_s + day_s;
  if (future || t.due_s <= t.calibrated_s || t.due_s - t.calibrated_s > validity_max_s) {
    return link::Code::table_dates;
  }
  if (now_s > t.due_s) {
    return link::Code::table_overdue;
  }
  if (t.calibrated_s < marks_.part_changed_s) {
    return link::Code::table_before_change;
  }
  if (t.calibrated_s <= marks_.barred_calibrated_s) {
    return link::Code::table_barred;
  }
  return code_of(controller_.check_install(table));
}

link::Code TableShelf::install(const strandproof_wire_GaugeTable& t, Bytes bytes,
                               std::span<const std::uint8_t, crypto::signature_size> signature,
                               std::uint64_t now_s) {
  if (keys_[0].name[0] == '\0') {
    return link::Code::no_table_key;
  }
  const link::TableKey* key = signed_by(bytes, signature);
  if (key == nullptr) {
    return link::Code::table_signature;
  }
  control::GaugeTable table;
  if (const Refusal r = from_wire(t, table); r != Refusal::none) {
    return code_of(r);
  }
  if (const link::Code code = objection(t, table, now_s); code != link::Code::none) {
    return code;
  }
  const unsigned idle = active_.revision == 0 ? 0U : 1U - (active_.slot & 1U);
  if (!write_slot(idle, bytes, signature, *key)) {
    return link::Code::store_fault;
  }
  slots_[idle].fault = verify(idle, table);  // from here on `table` is what was read back
  std::array<std::uint8_t, crypto::digest_size> sent{};
  crypto::sha256(bytes, sent);
  const auto& held = slots_[idle].info.sha256;
  if (slots_[idle].fault != Refusal::none || !crypto::equal_constant_time(sent, {held.bytes, held.size})) {
    return link::Code::store_fault;
  }
  return activate({.revision = t.revision, .slot = static_cast<std::uint8_t>(idle)}, table);
}

bool TableShelf::write_slot(unsigned slot, Bytes bytes,
                            std::span<const std::uint8_t, crypto::signature_size> signature,
                            const link::TableKey& key) {
  std::array<std::uint8_t, slot_max> raw{};
  std::copy(signature.begin(), signature.end(), raw.begin());
  const link::Fingerprint mark = link::fingerprint_of(key.key);
  std::copy(mark.begin(), mark.end(), raw.begin() + fingerprint_at);
  std::copy(bytes.begin(), bytes.end(), raw.begin() + bytes_at);
  return vault_.cells().write(cell_of(slot), Bytes{raw}.first(bytes_at + bytes.size()));
}

// The one committed write. Before it the old table is active, after it the new one.
link::Code TableShelf::activate(const Active& a, const control::GaugeTable& table) {
  if (!vault_.save(record::CellId::active_table, a)) {
    return link::Code::store_fault;
  }
  active_ = a;
  raise_floor();
  fault_ = controller_.install(table);
  scrub_.start(controller_.table());
  return code_of(fault_);
}

link::Code TableShelf::withdraw(const strandproof_wire_TableWithdraw& w) {
  if (w.reason == 0 || w.reason > reason_last) {
    return link::Code::malformed;
  }
  if (active_.revision == 0) {
    return link::Code::no_table;
  }
  if (w.revision != active_.revision) {
    return link::Code::table_not_active;
  }
  Marks m = marks_;
  m.withdrawn_up_to = std::max(m.withdrawn_up_to, w.revision);
  bar_calibration(m, active_.slot & 1U);
  m.reason = static_cast<std::uint8_t>(w.reason);
  if (!vault_.save(record::CellId::table_marks, m)) {
    return link::Code::store_fault;
  }
  marks_ = m;
  return link::Code::none;
}

void TableShelf::bar_calibration(Marks& m, unsigned slot) const {
  m.barred_calibrated_s = std::max(m.barred_calibrated_s, slots_[slot].info.calibrated_s);
}

link::Code TableShelf::undo(const strandproof_wire_TableUndo& u) {
  if (active_.revision == 0) {
    return link::Code::no_table;
  }
  if (u.from != active_.revision) {
    return link::Code::table_not_active;
  }
  if (pulls_on(active_.revision) != 0) {
    return link::Code::table_in_use;
  }
  const unsigned other = 1U - (active_.slot & 1U);
  control::GaugeTable table;
  slots_[other].fault = verify(other, table);
  if (slots_[other].fault != Refusal::none || table.revision != u.to || u.to >= u.from) {
    return link::Code::no_other_table;
  }
  if (const Refusal r = controller_.check_install(table); r != Refusal::none) {
    return code_of(r);
  }
  raise_floor();  // first: below it the table that is undone could be loaded once more
  if (floor_ < active_.revision) {
    return link::Code::store_fault;
  }
  return activate({.revision = u.to, .slot = static_cast<std::uint8_t>(other), .undone = 1}, table);
}

// ---- from the pendant ------------------------------------------------------------------------------------

bool TableShelf::part_changed(Part part, std::uint64_t now_s) {
  Marks m = marks_;
  m.voided_up_to = std::max(floor_, active_.revision);
  m.part = static_cast<std::uint8_t>(part);
  bar_calibration(m, 0);  // both were made with the old part, also the one that was undone
  bar_calibration(m, 1);
  m.part_changed_s = std::max(m.part_changed_s, now_s);
  if (!vault_.save(record::CellId::table_marks, m)) {
    return false;
  }
  marks_ = m;
  return true;
}

bool TableShelf::enrolled(const link::TableKey& k) const {
  return std::any_of(keys_.begin(), keys_.end(),
                     [&](const link::TableKey& held) { return held.name[0] != '\0' && held.key == k.key; });
}

unsigned TableShelf::key_count() const {
  unsigned n = 0;
  while (n < keys_max && keys_[n].name[0] != '\0') {
    ++n;
  }
  return n;
}

bool TableShelf::enrol(const link::TableKey& k) {
  const auto free =
      std::find_if(keys_.begin(), keys_.end(), [](const auto& held) { return held.name[0] == '\0'; });
  if (free == keys_.end()) {
    return false;
  }
  Keys wanted = keys_;
  wanted[static_cast<std::size_t>(free - keys_.begin())] = k;
  if (!vault_.save(record::CellId::table_keys, wanted)) {
    return false;
  }
  restore();
  return true;
}

// The keys behind it move up: the free places are always the last ones.
bool TableShelf::revoke(unsigned index) {
  if (index >= keys_max || keys_[index].name[0] == '\0') {
    return false;
  }
  Keys wanted = keys_;
  std::move(wanted.begin() + index + 1, wanted.end(), wanted.begin() + index);
  wanted.back() = link::TableKey{};
  if (!vault_.save(record::CellId::table_keys, wanted)) {
    return false;
  }
  restore();
  return true;
}

// ---- in use ----------------------------------------------------------------------------------------------

// A table that is in no slot any more makes room for the active one.
void TableShelf::pull_begun() {
  const std::uint32_t other = slots_[1U - (active_.slot & 1U)].info.revision;
  const auto is = [&](unsigned n, std::uint32_t revision) { return pulls_[n].revision == revision; };
  Pulls& p = pulls_[is(1, active_.revision) || (!is(0, active_.revision) && is(0, other)) ? 1 : 0];
  if (p.revision != active_.revision) {
    p = {.revision = active_.revision, .count = 0};
  }
  ++p.count;
  (void)vault_.save(record::CellId::table_pulls, pulls_);
}

std::uint32_t TableShelf::pulls_on(std::uint32_t revision) const {
  for (const Pulls& p : pulls_) {
    if (revision != 0 && p.revision == revision) {
      return p.count;
    }
  }
  return 0;
}

}  // namespace strandproof::app
