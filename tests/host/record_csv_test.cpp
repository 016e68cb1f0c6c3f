// Records as lines of CSV (RFC 4180): as many fields as the header has, whatever the record is, and a record
// that is none of a pull says what it is.
#include "host-tool/archive/record_csv.hpp"

#include <gtest/gtest.h>

#include "host-tool/archive/self_check.hpp"
#include "strandproof/wire.pb.h"
#include "tests/host/archive_fixture.hpp"

namespace strandproof::host::archive {
namespace {

// Fields by RFC 4180: a comma between quotation marks belongs to its field, two marks are one.
std::vector<std::string> fields(const std::string& line) {
  EXPECT_TRUE(line.ends_with("\r\n"));
  std::vector<std::string> found{""};
  bool quoted = false;
  for (std::size_t i = 0; i + 2 < line.size(); ++i) {
    const bool mark = line[i] == '"';
    if (mark && quoted && line[i + 1] == '"') {
      found.back() += line[++i];
    } else if (mark) {
      quoted = !quoted;
    } else if (line[i] == ',' && !quoted) {
      found.emplace_back();
    } else {
      found.back() += line[i];
    }
  }
  return found;
}

std::string field(const wire::Record& r, const std::string& column) {
  const auto names = fields(csv_header());
  const auto held = fields(csv_line({1001, 2, 3, 4000, r.SerializeAsString()}, 1));
  EXPECT_EQ(held.size(), names.size());
  for (std::size_t i = 0; i < names.size() && i < held.size(); ++i) {
    if (names[i] == column) return held[i];
  }
  return "no such column";
}

TEST(RecordCsv, EachFieldStandsUnderItsName) {
  wire::Record pull;
  pull.mutable_pull()->set_reel(119);
  pull.mutable_pull()->set_locked_n(129'000);
  pull.mutable_pull()->set_draw_in_um(2900);
  pull.mutable_pull()->set_uncertainty_ppm(9'000);
  pull.mutable_pull()->set_bed_name("Line 1, \"old\"");
  EXPECT_EQ(field(pull, "kind"), "pull");
  EXPECT_EQ(field(pull, "reel"), "119");
  EXPECT_EQ(field(pull, "locked_n"), "129000");
  EXPECT_EQ(field(pull, "draw_in_um"), "2900");
  EXPECT_EQ(field(pull, "uncertainty_ppm"), "9000");
  EXPECT_EQ(field(pull, "bed_name"), "Line 1, \"old\"");
  EXPECT_EQ(field(pull, "value"), "");
  EXPECT_EQ(field(pull, "strokes"), "1");
  EXPECT_EQ(field(pull, "lift_offs_n"), "");
  pull.mutable_pull()->set_strokes(3);
  // Rows of SPEC.md, section 12, by hand: (53000, 3100, 52600), then (41600, -200, -52600) more.
  pull.mutable_pull()->set_stroke_rows(
      std::string{"\x90\xbc\x06\xb8\x30\xf0\xb5\x06\x80\x8a\x05\x8f\x03\xef\xb5\x06", 16});
  EXPECT_EQ(field(pull, "strokes"), "3");
  EXPECT_EQ(field(pull, "stroke_ends_n"), "53000 94600");
  EXPECT_EQ(field(pull, "stroke_draw_ins_um"), "3100 2900");
  EXPECT_EQ(field(pull, "lift_offs_n"), "52600 0");
  wire::Record event;
  event.mutable_event()->set_force_n(-7);
  event.mutable_event()->set_value(5);
  EXPECT_EQ(field(event, "kind"), "event");
  EXPECT_EQ(field(event, "force_n"), "-7");
  EXPECT_EQ(field(event, "value"), "5");
  EXPECT_EQ(field(event, "reel"), "");
  wire::Record none;
  EXPECT_EQ(field(none, "kind"), "not readable");
}

TEST(RecordCsv, ACheckpointIsOne) {
  wire::Record r;
  r.mutable_checkpoint()->set_utc_s(1'777'879'800);
  EXPECT_EQ(field(r, "kind"), "checkpoint");
  EXPECT_EQ(field(r, "utc"), "2026-05-04T07:30:00Z");
  EXPECT_EQ(field(r, "value"), "");
}

TEST(RecordCsv, PartsOfACurveAndOfASnapshotSayWhatTheyBelongTo) {
  wire::Record curve;
  curve.mutable_curve()->set_instruction(12);
  EXPECT_EQ(field(curve, "kind"), "curve");
  EXPECT_EQ(field(curve, "instruction"), "12");
  EXPECT_EQ(field(curve, "value"), "");
  wire::Record snapshot;
  snapshot.mutable_snapshot()->set_cause(14);
  snapshot.mutable_snapshot()->set_part(2);
  EXPECT_EQ(field(snapshot, "kind"), "snapshot");
  EXPECT_EQ(field(snapshot, "what"), "part 2");
  EXPECT_EQ(field(snapshot, "cause"), "STRAND BREAK");
  EXPECT_EQ(field(snapshot, "value"), "");
}

using CheckpointInArchive = ArchiveTest;

TEST_F(CheckpointInArchive, IsReadable) {
  wire::Record r;
  r.mutable_checkpoint()->set_utc_s(1'777'879'800);
  Archive a{path_};
  a.add(std::vector<StoredRecord>{{1001, 1, 1, 1000, r.SerializeAsString()}, {1001, 1, 2, 2000, "\xff"}});
  const auto found = self_check(a);
  EXPECT_EQ(found.records, 2U);
  EXPECT_EQ(found.unreadable, 1U) << "the other one";
  EXPECT_TRUE(found.faults.empty());
}

// A search for a cause finds a trip by its event and by the first part of its snapshot, not fourteen times
// more.
TEST_F(CheckpointInArchive, ASnapshotIsFoundByItsFirstPart) {
  Archive a{path_};
  for (std::uint32_t part = 0; part < 3; ++part) {
    wire::Record r;
    r.mutable_snapshot()->set_cause(14);
    r.mutable_snapshot()->set_part(part);
    a.add(std::vector<StoredRecord>{{1001, 1, part + 1, 1000, r.SerializeAsString()}});
  }
  EXPECT_EQ(a.find({.cause = 14}).size(), 1U);
  EXPECT_EQ(self_check(a).unreadable, 0U);
}

}  // namespace
}  // namespace strandproof::host::archive
