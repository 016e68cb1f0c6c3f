// A jack's link without a jack: a Session, a handler that writes down what it was asked, a serial line in
// memory, and the pipe to a Peer, tick by tick.
#pragma once

#include <algorithm>
#include <cstdint>
#include <cstring>
#include <deque>
#include <map>
#include <string>
#include <utility>
#include <vector>

#include "firmware/crypto/crypto.hpp"
#include "firmware/link/session.hpp"

namespace strandproof::link {

class MemorySerial final : public port::Serial {
 public:
  std::size_t read(std::span<std::uint8_t> into) override {
    const std::size_t n = std::min(into.size(), to_jack.size());
    std::copy_n(to_jack.begin(), n, into.begin());
    to_jack.erase(to_jack.begin(), to_jack.begin() + static_cast<std::ptrdiff_t>(n));
    taken += n;
    return n;
  }
  std::size_t writable() const override { return room - std::min(room, from_jack.size()); }
  std::size_t waiting() const override { return from_jack.size(); }
  bool write(std::span<const std::uint8_t> bytes) override {
    if (bytes.size() > writable()) {
      return false;
    }
    from_jack.insert(from_jack.end(), bytes.begin(), bytes.end());
    return true;
  }
  std::deque<std::uint8_t> to_jack;
  std::vector<std::uint8_t> from_jack;
  std::size_t room = 2048;
  std::size_t taken = 0;
};

struct StoredRecord {
  std::uint64_t sequence;
  std::string body;
};

class FakeHandler final : public Handler {
 public:
  Code load_instruction(const strandproof_wire_PullInstruction& i) override {
    calls.push_back("instruction " + std::to_string(i.id) + " " + i.bed_name);
    return answer;
  }
  Code set_clock(std::uint64_t utc_s) override {
    calls.push_back("clock " + std::to_string(utc_s));
    return answer;
  }
  Code enter_bed(const strandproof_wire_BedEntry& e) override {
    calls.push_back("entry " + std::to_string(e.position) + " " + e.by);
    return answer;
  }
  Code install_table(const strandproof_wire_GaugeTable& t, std::span<const std::uint8_t> bytes,
                     std::span<const std::uint8_t, 64> signature) override {
    if (!crypto::ed25519_verify(signature, bytes, table_key)) {
      return Code::table_signature;
    }
    if (t.revision <= table_revision) {
      return Code::table_older;
    }
    calls.push_back("table " + std::to_string(t.revision));
    table_revision = t.revision;
    table.assign(bytes.begin(), bytes.end());
    return answer;
  }
  Code withdraw_table(const strandproof_wire_TableWithdraw& w) override {
    calls.push_back("withdraw " + std::to_string(w.revision) + " " + std::to_string(w.reason));
    return answer;
  }
  Code undo_table(const strandproof_wire_TableUndo& u) override {
    calls.push_back("undo " + std::to_string(u.from) + " " + std::to_string(u.to));
    return answer;
  }
  Code release_records(const strandproof_wire_RecordRelease& r) override {
    calls.push_back("release " + std::to_string(r.up_to) + " " + r.name);
    return answer;
  }
  bool at_rest() const override { return rest; }
  bool moving() const override { return moves; }
  void fill(strandproof_wire_Identity& to) override {
    to.jack_serial = 4711;
    to.origin = 1;
    to.table_revision = table_revision;
  }
  void fill(strandproof_wire_Status& to) override {
    to.state = 3;
    to.display_count = 1;
    std::strcpy(to.display[0], "NO LOAD");
  }
  void fill(strandproof_wire_Telemetry& to) override { to.force_n = -5; }
  void fill(strandproof_wire_Tables& to) override { to.floor = table_revision; }
  Code table_bytes(const strandproof_wire_TableRead& r, strandproof_wire_TableBytes& to) override {
    const std::size_t from = r.index * std::size_t{160};
    if (r.slot != 1 || table.empty()) {
      return Code::no_such_slot;
    }
    if (from >= table.size()) {
      return Code::malformed;
    }
    to.slot = r.slot;
    to.index = r.index;
    to.data.size = static_cast<pb_size_t>(std::min<std::size_t>(160, table.size() - from));
    std::copy_n(table.begin() + static_cast<std::ptrdiff_t>(from), to.data.size, to.data.bytes);
    return Code::none;
  }
  bool record_from(std::uint64_t from, strandproof_wire_LogRecord& to) override {
    const auto r = records.lower_bound(from);
    if (r == records.end()) {
      return false;
    }
    to.sequence = r->first;
    to.body.size = static_cast<pb_size_t>(r->second.size());
    std::copy(r->second.begin(), r->second.end(), to.body.bytes);
    return true;
  }
  bool pairing_open() const override { return open; }
  void show_pairing(std::uint32_t check) override { shown = check; }
  bool store_pairing(const Pairing& p, const ChainKey& made_for_chain) override {
    pairing = p;
    chain_key = made_for_chain;
    return true;
  }
  Code may_enrol() const override { return enrolment; }
  bool key_enrolled(const TableKey& k) const override { return k.key == enrolled.key; }
  void show_key(const TableKey* k) override { key_shown = k != nullptr ? k->name.data() : ""; }
  bool enrol_key(const TableKey& k) override {
    enrolled = k;
    return true;
  }
  void note_forged(std::uint32_t) override { ++blocks; }
  void note_refused(std::uint32_t kind, Code code) override { refused.emplace_back(kind, code); }

  std::vector<std::string> calls;
  Code answer = Code::none;
  std::map<std::uint64_t, std::string> records;
  std::vector<std::uint8_t> table;
  std::uint32_t table_revision = 0;
  bool rest = true, open = false, moves = false;
  std::uint32_t shown = 0;
  int blocks = 0;
  Pairing pairing;
  ChainKey chain_key{};
  std::array<std::uint8_t, 32> table_key{};  // that signs tables
  Code enrolment = Code::key_closed;
  TableKey enrolled;
  std::string key_shown;
  std::vector<std::pair<std::uint32_t, Code>> refused;
};

struct FakeJack {
  FakeJack() { session.start(7, {}); }
  void tick() { session.poll(++now); }
  std::vector<std::uint8_t> sent() { return std::exchange(serial.from_jack, {}); }

  port::Device device = [] {
    port::Device d;
    d.jack_serial = 4711;
    d.secret.fill(0x5A);
    return d;
  }();
  MemorySerial serial;
  FakeHandler handler;
  Session session{serial, device, handler};
  units::Ticks now = 0;
};

}  // namespace strandproof::link
