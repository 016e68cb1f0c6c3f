// Bodies of sealed messages and gauge tables: one encoding, nothing unknown, nothing half (H24). And: nothing
// on the link moves oil.
#include <gtest/gtest.h>

#include "firmware/link/strict.hpp"
#include "tests/link/forge.hpp"
#include "tests/link/table_bytes.hpp"

namespace strandproof::link {
namespace {

using proto::FrameType;
using Calls = std::vector<std::string>;

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

// Nothing on the link moves oil: of every kind there could be, only those of SPEC.md reach the handler,
// and none of the handler's calls starts, resumes, lowers or resets anything.
TEST_F(Hostile, OnlyTheKindsOfTheSpecReachTheHandler) {
  for (std::uint32_t kind = 0; kind < 400; ++kind) {
    const Code code = host.ask(host.sealed(kind, ""));
    EXPECT_EQ(code == Code::malformed, kind < 32 || kind > 40 || kind == 33 || kind == 34) << kind;
  }
  EXPECT_EQ(jack.handler.calls,
            (Calls{"clock 0", "instruction 0 ", "entry 0 ", "release 0 ", "withdraw 0 0", "undo 0 0"}));
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
  t.bytes.push_back(0x70);  // field 14
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
