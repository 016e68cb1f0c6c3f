// What a host may read of the two slots and of the keys.
#include <algorithm>

#include "firmware/app/table_shelf.hpp"
#include "firmware/app/table_slot.hpp"

namespace strandproof::app {
namespace {

using control::Refusal;

#define TABLE(number, id, text) id = number,
enum class State : std::uint32_t {
#include "proto/catalogue.def"
};

}  // namespace

std::uint32_t TableShelf::state_of(unsigned slot) const {
  const Slot& s = slots_[slot];
  const bool active = active_.revision != 0 && slot == (active_.slot & 1U);
  State state = State::held;
  if (s.fault == Refusal::no_table) {
    state = State::empty;
  } else if (s.fault != Refusal::none || (active && fault_ != Refusal::none)) {
    state = State::unusable;
  } else if (s.info.revision <= marks_.voided_up_to) {
    state = State::voided;
  } else if (s.info.revision <= marks_.withdrawn_up_to) {
    state = State::withdrawn;
  } else if (active) {
    state = State::active;
  }
  return static_cast<std::uint32_t>(state);
}

void TableShelf::fill(strandproof_wire_Tables& to) const {
  to.has_slot_a = to.has_slot_b = true;
  to.slot_a = slots_[0].info;
  to.slot_b = slots_[1].info;
  to.slot_a.state = state_of(0);
  to.slot_b.state = state_of(1);
  to.slot_a.pulls = pulls_on(to.slot_a.revision);
  to.slot_b.pulls = pulls_on(to.slot_b.revision);
  to.active = active_.revision == 0 ? 0U : 1U + (active_.slot & 1U);
  to.floor = floor_;
  to.withdrawn_reason =
      active_.revision != 0 && active_.revision <= marks_.withdrawn_up_to ? marks_.reason : 0;
  to.voided_part = active_.revision != 0 && active_.revision <= marks_.voided_up_to ? marks_.part : 0;
  to.refusal = static_cast<std::uint32_t>(active_.revision == 0 ? Refusal::no_table : bar());
  for (const link::TableKey& k : keys_) {
    if (k.name[0] != '\0') {
      strandproof_wire_TableKeyEntry& entry = to.keys[to.keys_count++];
      std::copy(k.name.begin(), k.name.end(), entry.name);
      put_bytes(link::fingerprint_of(k.key), entry.fingerprint);
    }
  }
}

link::Code TableShelf::bytes(const strandproof_wire_TableRead& r, strandproof_wire_TableBytes& to) const {
  constexpr std::size_t chunk = link::TableTransfer::chunk_size;
  std::array<std::uint8_t, slot_max> raw{};
  const std::uint16_t n =
      r.slot == 1 || r.slot == 2 ? vault_.cells().read(cell_of(r.slot - 1U), raw) : std::uint16_t{0};
  if (n <= bytes_at) {
    return link::Code::no_such_slot;
  }
  const std::size_t length = n - bytes_at;
  if (r.index >= (length + chunk - 1) / chunk) {
    return link::Code::malformed;
  }
  const std::size_t from = r.index * chunk;
  to.slot = r.slot;
  to.index = r.index;
  to.data.size = static_cast<pb_size_t>(std::min(chunk, length - from));
  std::copy_n(raw.begin() + static_cast<std::ptrdiff_t>(bytes_at + from), to.data.size, to.data.bytes);
  if (r.index == 0) {
    to.signature.size = static_cast<pb_size_t>(crypto::signature_size);
    std::copy_n(raw.begin(), crypto::signature_size, to.signature.bytes);
  }
  return link::Code::none;
}

}  // namespace strandproof::app
