// What the jack's end must not do, whatever comes: H24 to H27 over the link, pairing, strict bodies.
#include <gtest/gtest.h>

#include "firmware/link/strict.hpp"
#include "tests/link/forge.hpp"
#include "tests/link/table_bytes.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;
using Calls = std::vector<std::string>;

std::string clock_body(std::uint64_t utc_s) {
  wire::ClockSet m;
  m.set_utc_s(utc_s);
  return m.SerializeAsString();
}

struct Hostile : testing::Test {
  FakeJack jack;
  Forger host{jack};
};

// ---- H25: forged or replayed --------------------------------------------------------------------------

TEST_F(Hostile, H25_AGoodMessageIsTheControl) {
  EXPECT_EQ(host.set_clock(5), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 5"});
}

TEST_F(Hostile, H25_EveryFieldIsUnderTheTag) {
  const auto changed = [&](auto change) {
    FakeJack other;
    Forger h{other};
    wire::Sealed s = h.sealed(FrameType::clock_set, clock_body(5));
    change(s);
    EXPECT_EQ(h.ask(s), Code::tag_wrong);
    EXPECT_TRUE(other.handler.calls.empty());
  };
  changed([](wire::Sealed& s) { s.set_counter(s.counter() + 1); });
  changed([](wire::Sealed& s) { s.set_valid_until_ms(s.valid_until_ms() + 1); });
  changed([](wire::Sealed& s) { s.set_kind(s.kind() + 6); });
  changed([](wire::Sealed& s) { s.set_body(clock_body(6)); });
  changed([](wire::Sealed& s) { s.mutable_tag()->at(15) ^= 1; });
  changed([](wire::Sealed& s) { s.mutable_tag()->pop_back(); });
  changed([](wire::Sealed& s) { s.clear_tag(); });
}

TEST_F(Hostile, H25_AnUnknownHostIsRefused) {
  wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_host_id(99);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::not_paired);
  EXPECT_TRUE(jack.handler.calls.empty());
}

TEST_F(Hostile, H25_AMessageSentTwiceIsAnsweredTwiceAndAppliedOnce) {
  const wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  EXPECT_EQ(host.ask(s), Code::none);
  EXPECT_EQ(host.ask(s), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 5"});
}

TEST_F(Hostile, H25_AnOlderMessageIsRefused) {
  const wire::Sealed old = host.sealed(FrameType::clock_set, clock_body(5));
  EXPECT_EQ(host.ask(old), Code::none);
  EXPECT_EQ(host.set_clock(6), Code::none);
  EXPECT_EQ(host.ask(old), Code::counter_old);
  EXPECT_EQ(jack.handler.calls, (Calls{"clock 5", "clock 6"}));
}

TEST_F(Hostile, H25_ARecordingOfAnotherSessionIsRefused) {
  const wire::Sealed old = host.sealed(FrameType::clock_set, clock_body(5));
  const std::uint32_t old_session = host.session;
  host.identify();
  EXPECT_EQ(host.ask(old), Code::tag_wrong);  // in the new session's frame
  host.session = old_session;
  EXPECT_EQ(host.ask(old), Code::other_session);  // as it was recorded
  EXPECT_TRUE(jack.handler.calls.empty());
}

TEST_F(Hostile, H25_NoncesDifferByBootAndBySession) {
  std::vector<std::string> seen;
  for (std::uint32_t boot = 1; boot <= 3; ++boot) {
    jack.session.start(boot, {});
    for (int i = 0; i < 3; ++i) {
      host.identify();
      EXPECT_EQ(host.identity.nonce().size(), 16U);
      EXPECT_EQ(std::count(seen.begin(), seen.end(), host.identity.nonce()), 0);
      seen.push_back(host.identity.nonce());
    }
  }
}

TEST_F(Hostile, H25_ThreeForgedTagsShutTheLinkForTenMinutes) {
  for (unsigned i = 0; i < 3; ++i) {
    EXPECT_EQ(jack.handler.blocks, 0);
    wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
    s.set_tag(std::string(16, 'x'));
    EXPECT_EQ(host.ask(s), Code::tag_wrong);
  }
  EXPECT_EQ(jack.handler.blocks, 1);
  const units::Ticks until = jack.now - 1 + blocked_ticks;  // the forged frame came one tick ago
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  host.identify();  // reads go on, and a new session opens nothing
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  wire::Status status;
  const auto got = host.send(FrameType::status_get, "");
  ASSERT_EQ(got.size(), 1U);
  ASSERT_TRUE(status.ParseFromString(got[0].second));
  EXPECT_EQ(status.tags_bad(), 3U);
  EXPECT_GT(status.link_blocked_ms(), 599'000U);
  while (jack.now + 4 < until) {
    jack.tick();
  }
  EXPECT_EQ(host.set_clock(6), Code::blocked);
  jack.now = until;
  EXPECT_EQ(host.set_clock(7), Code::none);
  EXPECT_EQ(jack.handler.calls, Calls{"clock 7"});
}

TEST_F(Hostile, H25_GoodTagsInBetweenGiveNoFreeTries) {
  for (unsigned i = 0; i < 3; ++i) {
    EXPECT_EQ(host.set_clock(5), Code::none);
    wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(6));
    s.set_tag(std::string(16, 'x'));
    EXPECT_EQ(host.ask(s), Code::tag_wrong);
  }
  EXPECT_EQ(host.set_clock(5), Code::blocked);
}

// ---- H26: late ------------------------------------------------------------------------------------------

TEST_F(Hostile, H26_LateByOneTickIsRefused) {
  const auto at_limit = [&](std::int64_t spare) {
    FakeJack other;
    Forger h{other};
    wire::Sealed s = h.sealed(FrameType::clock_set, clock_body(5));
    // The frame of 60 to 64 bytes is read in the next tick.
    s.set_valid_until_ms(static_cast<std::uint64_t>(static_cast<std::int64_t>(other.now) + spare));
    s.set_tag(h.tag(s));
    const units::Ticks before = other.now;
    const Code code = h.ask(s);
    EXPECT_LE(other.now - before, 4U);
    return code;
  };
  std::int64_t first_good = 0;
  while (first_good < 10 && at_limit(first_good) != Code::none) {
    ++first_good;
  }
  EXPECT_GE(first_good, 1);
  EXPECT_LE(first_good, 2);  // the tick in which its last byte is read
  EXPECT_EQ(at_limit(first_good - 1), Code::too_late);
}

TEST_F(Hostile, H26_NoMessageIsGoodForLongerThanAMinute) {
  wire::Sealed s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_valid_until_ms(jack.now + validity_max + 10);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::malformed);
  s = host.sealed(FrameType::clock_set, clock_body(5));
  s.set_valid_until_ms(jack.now + validity_max);
  s.set_tag(host.tag(s));
  EXPECT_EQ(host.ask(s), Code::none);
}

// ---- H27: flood -------------------------------------------------------------------------------------------

TEST_F(Hostile, H27_AFloodIsReadInBoundedPiecesAndTheHonestHostGetsThrough) {
  std::mt19937 random{27};
  for (int i = 0; i < 20'000; ++i) {
    jack.serial.to_jack.push_back(static_cast<std::uint8_t>(random() % 7 == 0 ? 0 : random()));
  }
  unsigned ticks = 0;
  while (!jack.serial.to_jack.empty()) {
    const std::size_t before = jack.serial.taken;
    jack.tick();
    ++ticks;
    ASSERT_LE(jack.serial.taken - before, bytes_per_tick);
  }
  EXPECT_GE(ticks, 20'000U / bytes_per_tick);
  EXPECT_GT(jack.session.counters(jack.now).frames_bad, 1'000U);
  EXPECT_TRUE(jack.sent().empty());
  EXPECT_EQ(host.set_clock(5), Code::none);
}

TEST_F(Hostile, H27_OneFrameATickAndNoWaitForAFullLine) {
  jack.serial.room = 100;  // no frame of the log fits
  for (int i = 0; i < 5; ++i) {
    host.send(FrameType::status_get, "");
  }
  jack.handler.records[1] = "r";
  wire::LogGet get;
  get.set_from(1);
  get.set_count(5);
  EXPECT_TRUE(host.send(FrameType::log_get, get.SerializeAsString(), 20).empty());
  jack.serial.room = 2048;  // the line drains: the window is served where it waited
  jack.tick();
  jack.tick();
  EXPECT_EQ(host.answers().size(), 2U);
}

// ---- echoes, strangers
// --------------------------------------------------------------------------------------

TEST_F(Hostile, AnEchoingLineStartsNoQuarrel) {
  wire::Identify i;
  i.set_protocol_major(1);
  host.send(FrameType::identify, i.SerializeAsString());
  std::size_t echoed = 0;
  wire::Status status;
  for (const FrameType t : {FrameType::identity, FrameType::reply, FrameType::status, FrameType::telemetry,
                            FrameType::log_record, FrameType::pair_reply}) {
    host.session = host.last_header.session;
    echoed += host.send(t, status.SerializeAsString(), 3).size();
  }
  EXPECT_EQ(echoed, 0U);
}

TEST_F(Hostile, FramesForAnotherJackAreNotAnswered) {
  host.device = 4712;
  EXPECT_TRUE(host.send(FrameType::status_get, "").empty());
  wire::Identify i;
  i.set_protocol_major(1);
  EXPECT_TRUE(host.send(FrameType::identify, i.SerializeAsString()).empty());
  host.device = 0;
  EXPECT_EQ(host.send(FrameType::identify, i.SerializeAsString()).size(), 1U);
}

TEST_F(Hostile, AnotherMajorIsToldSoAndAnotherMinorIsNot) {
  wire::Identify i;
  i.set_protocol_major(2);
  host.session = 0;
  auto got = host.send(FrameType::identify, i.SerializeAsString());
  ASSERT_EQ(got.size(), 1U);
  wire::Reply r;
  ASSERT_EQ(got[0].first, FrameType::reply);
  ASSERT_TRUE(r.ParseFromString(got[0].second));
  EXPECT_EQ(r.code(), static_cast<std::uint32_t>(Code::other_major));
  i.set_protocol_major(1);
  i.set_protocol_minor(9);
  std::string payload = i.SerializeAsString();
  payload += std::string("\x78\x05", 2);  // field 15, of a later minor: tolerated in what changes nothing
  got = host.send(FrameType::identify, payload);
  ASSERT_EQ(got.size(), 1U);
  EXPECT_EQ(got[0].first, FrameType::identity);
}

TEST_F(Hostile, BeforeTheFirstIdentifyThereIsNoSession) {
  FakeJack fresh;
  fresh.session.start(7, jack.handler.pairing);
  Forger h{fresh};
  fresh.session.start(8, {});
  EXPECT_EQ(h.set_clock(5), Code::other_session);
}

// ---- pairing
// ------------------------------------------------------------------------------------------------

std::string pair_request(const proto::HostKeys& k) {
  wire::PairRequest r;
  r.set_host_id(k.host_id);
  r.set_host_name("office");
  r.set_key(std::string{k.key.begin(), k.key.end()});
  r.set_table_key(std::string{k.table_key.begin(), k.table_key.end()});
  return r.SerializeAsString();
}

wire::PairReply pair_reply(const std::vector<std::pair<FrameType, std::string>>& got) {
  wire::PairReply r;
  EXPECT_EQ(got.size(), 1U);
  EXPECT_TRUE(got.size() == 1 && got[0].first == FrameType::pair_reply && r.ParseFromString(got[0].second));
  return r;
}

TEST_F(Hostile, ASecondRequestCanNotReplaceTheOneOnTheDisplay) {
  jack.handler.open = true;
  EXPECT_TRUE(pair_reply(host.send(FrameType::pair_request, pair_request(host_keys(2)))).waiting());
  const std::uint32_t shown = jack.handler.shown;
  EXPECT_NE(shown, 0U);
  EXPECT_EQ(pair_reply(host.send(FrameType::pair_request, pair_request(host_keys(3)))).code(),
            static_cast<std::uint32_t>(Code::busy));
  EXPECT_EQ(jack.handler.shown, shown);
  jack.session.confirm_pairing();
  EXPECT_EQ(jack.handler.pairing.host_id, host_keys(2).host_id);
}

TEST_F(Hostile, NobodyPairsWithoutThePersonAtThePendant) {
  jack.handler.open = true;
  host.send(FrameType::pair_request, pair_request(host_keys(2)), 100);
  EXPECT_EQ(jack.handler.pairing.host_id, 0U);
  EXPECT_FALSE(jack.session.paired_with(host_keys(2).host_id));
  jack.session.refuse_pairing();
  EXPECT_EQ(jack.handler.shown, 0U);
  jack.session.confirm_pairing();  // too late: nothing waits any more
  EXPECT_EQ(jack.handler.pairing.host_id, 0U);
}

TEST_F(Hostile, APairingIsForTheSessionWhoseDigitsAreShown) {
  jack.handler.open = true;
  host.send(FrameType::pair_request, pair_request(host_keys(2)));
  host.session = 0;
  wire::Identify i;
  i.set_protocol_major(1);
  host.send(FrameType::identify, i.SerializeAsString());
  EXPECT_FALSE(jack.session.pairing_waits());
  EXPECT_EQ(jack.handler.shown, 0U);
}

TEST_F(Hostile, KeysOfOtherLengthsAreRefused) {
  jack.handler.open = true;
  wire::PairRequest r;
  r.set_host_id(5);
  r.set_key(std::string(31, 'k'));
  r.set_table_key(std::string(32, 't'));
  EXPECT_EQ(pair_reply(host.send(FrameType::pair_request, r.SerializeAsString())).code(),
            static_cast<std::uint32_t>(Code::malformed));
  EXPECT_FALSE(jack.session.pairing_waits());
}

// ---- strict bodies
// --------------------------------------------------------------------------------------------

TEST_F(Hostile, H24_OddBodiesWithGoodTagsAreRefused) {
  wire::BedEntry e;
  e.set_bed(1);
  e.set_position(2);
  e.set_kind(1);
  e.set_by("foreman");
  const std::string good = e.SerializeAsString();
  EXPECT_EQ(host.ask(host.sealed(FrameType::bed_entry, good)), Code::none);
  const std::vector<std::pair<const char*, std::string>> odd = {
      {"unknown field", good + std::string("\x28\x01", 2)},
      {"trailing byte", good + std::string("\x00", 1)},
      {"doubled field", std::string("\x08\x01", 2) + good},
      {"field out of order", std::string("\x10\x02\x08\x01\x18\x01", 6)},
      {"longer varint than needed", std::string("\x08\x81\x00\x10\x02\x18\x01", 7)},
      {"wrong wire type", std::string("\x0d\x01\x00\x00\x00\x10\x02\x18\x01", 9)},
      {"cut in a varint", std::string("\x08\x81", 2)},
      {"cut in a string", good.substr(0, good.size() - 1)},
      {"more than 32 bits", std::string("\x08\x80\x80\x80\x80\x10\x10\x02\x18\x01", 10)},
      {"letters beyond ASCII", std::string("\x08\x01\x10\x02\x18\x01\x22\x02\xC3\xBC", 10)},
      {"a zero in a name", std::string("\x08\x01\x10\x02\x18\x01\x22\x02\x41\x00", 10)},
      {"name longer than its field",
       std::string("\x08\x01\x10\x02\x18\x01\x22\x18", 8) + std::string(24, 'n')},
  };
  const std::size_t before = jack.handler.calls.size();
  for (const auto& [what, body] : odd) {
    EXPECT_EQ(host.ask(host.sealed(FrameType::bed_entry, body)), Code::malformed) << what;
  }
  EXPECT_EQ(jack.handler.calls.size(), before);
}

TEST_F(Hostile, H24_OddSealedMessagesAreRefused) {
  const std::string good = host.sealed(FrameType::clock_set, clock_body(5)).SerializeAsString();
  EXPECT_EQ(host.ask(good + std::string("\x38\x01", 2)), Code::malformed);
  EXPECT_EQ(host.ask(std::string("\x08\x01", 2) + good), Code::malformed);
  EXPECT_EQ(host.ask(good.substr(0, good.size() - 3)), Code::malformed);
  EXPECT_EQ(host.ask(good), Code::none);
}

// Nothing on the link moves oil: of every kind there could be, only the seven of SPEC.md reach the handler,
// and none of the handler's calls starts, resumes, lowers or resets anything.
TEST_F(Hostile, OnlyTheSevenKindsReachTheHandler) {
  for (std::uint32_t kind = 0; kind < 400; ++kind) {
    const Code code = host.ask(host.sealed(kind, ""));
    EXPECT_EQ(code == Code::malformed, kind < 32 || kind > 38 || kind == 33 || kind == 34) << kind;
  }
  EXPECT_EQ(jack.handler.calls, (Calls{"clock 0", "instruction 0 ", "entry 0 ", "release 0"}));
}

TEST_F(Hostile, EveryFrameTypeButTheSixOfAHostIsRefusedOrIgnored) {
  for (unsigned type = 0; type < 256; ++type) {
    const auto t = static_cast<FrameType>(type);
    if (t == FrameType::identify) {
      continue;
    }
    host.send(t, "");
  }
  EXPECT_TRUE(jack.handler.calls.empty());
}

// ---- tables
// -----------------------------------------------------------------------------------------------------

struct TableMessages {
  static std::string begin(const TableBytes& t, std::uint32_t revision = 3) {
    wire::TableBegin b;
    b.set_revision(revision);
    b.set_length(static_cast<std::uint32_t>(t.bytes.size()));
    const proto::Key digest = proto::sha256(t.bytes);
    b.set_sha256(std::string{digest.begin(), digest.end()});
    return b.SerializeAsString();
  }
  static std::string chunk(const TableBytes& t, std::uint32_t index) {
    wire::TableChunk c;
    c.set_index(index);
    const std::size_t from = index * 160U;
    c.set_data(t.bytes.data() + from, std::min<std::size_t>(160, t.bytes.size() - from));
    return c.SerializeAsString();
  }
  static std::string commit(const TableBytes& t, std::uint32_t revision = 3) {
    wire::TableCommit c;
    c.set_revision(revision);
    c.set_signature(std::string{t.signature.begin(), t.signature.end()});
    return c.SerializeAsString();
  }
};

TEST_F(Hostile, ATableIsTakenInAnyOrderAndOnlyWhole) {
  const TableBytes t = signed_table(3, host.keys);
  ASSERT_EQ(host.ask(host.sealed(FrameType::table_begin, TableMessages::begin(t))), Code::none);
  EXPECT_EQ(host.reply.next_chunk(), 0U);
  const auto chunks = static_cast<std::uint32_t>((t.bytes.size() + 159) / 160);
  for (std::uint32_t i = chunks; i-- > 0;) {
    EXPECT_EQ(host.ask(host.sealed(FrameType::table_commit, TableMessages::commit(t))),
              Code::table_incomplete);
    EXPECT_EQ(host.ask(host.sealed(FrameType::table_chunk, TableMessages::chunk(t, i))), Code::none);
  }
  EXPECT_EQ(host.reply.next_chunk(), chunks);
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_commit, TableMessages::commit(t, 4))),
            Code::table_incomplete);
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_commit, TableMessages::commit(t))), Code::none);
  EXPECT_EQ(jack.handler.table, t.bytes);
}

TEST_F(Hostile, AChangedChunkIsFoundOut) {
  const TableBytes t = signed_table(3, host.keys);
  TableBytes other = t;
  other.bytes[200] ^= 1U;
  ASSERT_EQ(host.ask(host.sealed(FrameType::table_begin, TableMessages::begin(t))), Code::none);
  for (std::uint32_t i = 0; i * 160 < t.bytes.size(); ++i) {
    EXPECT_EQ(host.ask(host.sealed(FrameType::table_chunk, TableMessages::chunk(other, i))), Code::none);
  }
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_commit, TableMessages::commit(t))), Code::table_incomplete);
  EXPECT_TRUE(jack.handler.table.empty());
}

// Signed by the right key and still not a table: the form is looked at last, and strictly.
TEST_F(Hostile, ASignedOddTableIsRefused) {
  TableBytes t = signed_table(3, host.keys);
  t.bytes.push_back(0x68);  // field 13
  t.bytes.push_back(0x01);
  proto::Key seed{};
  seed.fill(101);
  t.signature = proto::TableKey{seed}.sign(t.bytes);
  ASSERT_EQ(host.ask(host.sealed(FrameType::table_begin, TableMessages::begin(t))), Code::none);
  for (std::uint32_t i = 0; i * 160 < t.bytes.size(); ++i) {
    EXPECT_EQ(host.ask(host.sealed(FrameType::table_chunk, TableMessages::chunk(t, i))), Code::none);
  }
  EXPECT_EQ(host.ask(host.sealed(FrameType::table_commit, TableMessages::commit(t))), Code::malformed);
  EXPECT_TRUE(jack.handler.table.empty());
}

TEST(Strict, PackedNumbersHaveOneForm) {
  // a_increasing { pressure_mbar: [1, 2] } and the same with 2 written in two bytes.
  const std::vector<std::uint8_t> good{0x4A, 0x04, 0x0A, 0x02, 0x01, 0x02};
  const std::vector<std::uint8_t> longer{0x4A, 0x05, 0x0A, 0x03, 0x01, 0x82, 0x00};
  const std::vector<std::uint8_t> unpacked{0x4A, 0x04, 0x08, 0x01, 0x08, 0x02};
  EXPECT_TRUE(is_strict_table(good));
  EXPECT_FALSE(is_strict_table(longer));
  EXPECT_FALSE(is_strict_table(unpacked));
}

// The shapes are written by hand; this keeps them with the .proto.
TEST(Strict, ShapesAreThoseOfTheProto) {
  using google::protobuf::FieldDescriptor;
  const auto agrees = [](const google::protobuf::Descriptor* d, const Shape& shape) {
    ASSERT_EQ(static_cast<int>(shape.fields), d->field_count()) << d->name();
    for (int i = 0; i < d->field_count(); ++i) {
      const FieldDescriptor* f = d->field(i);
      EXPECT_EQ(f->number(), i + 1) << d->name();
      const bool delimited = f->is_repeated() || f->type() == FieldDescriptor::TYPE_STRING ||
                             f->type() == FieldDescriptor::TYPE_BYTES ||
                             f->type() == FieldDescriptor::TYPE_MESSAGE;
      EXPECT_EQ((shape.lengths >> f->number()) & 1U, delimited ? 1U : 0U) << f->full_name();
      EXPECT_EQ((shape.text >> f->number()) & 1U, f->type() == FieldDescriptor::TYPE_STRING ? 1U : 0U)
          << f->full_name();
    }
  };
  agrees(wire::Sealed::descriptor(), sealed_shape);
  agrees(wire::PairRequest::descriptor(), pair_request_shape);
  agrees(wire::ClockSet::descriptor(), clock_set_shape);
  agrees(wire::TableBegin::descriptor(), table_begin_shape);
  agrees(wire::TableChunk::descriptor(), table_chunk_shape);
  agrees(wire::TableCommit::descriptor(), table_commit_shape);
  agrees(wire::PullInstruction::descriptor(), instruction_shape);
  agrees(wire::BedEntry::descriptor(), bed_entry_shape);
  agrees(wire::RecordRelease::descriptor(), record_release_shape);
}

// Every message fits one frame, at its longest.
static_assert(strandproof_wire_Identity_size <= proto::payload_max);
static_assert(strandproof_wire_PairRequest_size <= proto::payload_max);
static_assert(strandproof_wire_Sealed_size <= proto::payload_max);
static_assert(strandproof_wire_Status_size <= proto::payload_max);
static_assert(strandproof_wire_Telemetry_size <= proto::payload_max);
static_assert(strandproof_wire_LogRecord_size <= proto::payload_max);
static_assert(strandproof_wire_PullInstruction_size <= sizeof(strandproof_wire_Sealed{}.body.bytes));
static_assert(strandproof_wire_TableChunk_size <= sizeof(strandproof_wire_Sealed{}.body.bytes));
static_assert(strandproof_wire_EventRecord_size <= 448);

}  // namespace
}  // namespace strandproof::link
