#include "host-tool/archive/reading.hpp"

#include "host-tool/base/text.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::archive {
namespace {

constexpr std::size_t longest_strand = 64;

Columns of_event(const wire::EventRecord& e) {
  Columns c;
  c.kind = Kind::event;
  c.code = e.code();
  c.cause = e.cause();
  c.utc_s = static_cast<std::int64_t>(e.utc_s());
  c.instruction = e.instruction();
  return c;
}

Columns of_pull(const wire::PullRecord& p) {
  Columns c;
  c.kind = Kind::pull;
  c.code = p.verdict();
  c.cause = p.cause();
  c.utc_s = static_cast<std::int64_t>(p.utc_s());
  c.instruction = p.instruction();
  c.bed = p.bed();
  c.position = p.position();
  c.reel = p.reel();
  c.revision = p.table_revision();
  c.stiffness = p.stiffness_seen_n_per_m();
  c.strand = shown(p.strand_name(), longest_strand);
  return c;
}

Columns of_checkpoint(const wire::Checkpoint& k) {
  Columns c;
  c.kind = Kind::checkpoint;
  c.utc_s = static_cast<std::int64_t>(k.utc_s());
  return c;
}

Columns of_curve(const wire::CurvePart& part) {
  Columns c;
  c.kind = Kind::curve;
  c.instruction = part.instruction();
  return c;
}

Columns of_snapshot(const wire::Snapshot& part) {
  Columns c;
  c.kind = Kind::snapshot;
  c.cause = part.part() == 0 ? part.cause() : 0;  // a search for a cause finds each trip once
  return c;
}

}  // namespace

Columns columns_of(const std::string& body) {
  wire::Record r;
  if (!r.ParseFromString(body)) return {};
  if (r.has_pull()) return of_pull(r.pull());
  if (r.has_checkpoint()) return of_checkpoint(r.checkpoint());
  if (r.has_curve()) return of_curve(r.curve());
  if (r.has_snapshot()) return of_snapshot(r.snapshot());
  return r.has_event() ? of_event(r.event()) : Columns{};
}

std::int64_t planned_stiffness(const std::string& instruction_body) {
  wire::PullInstruction m;
  return m.ParseFromString(instruction_body) ? m.stiffness_n_per_m() : 0;
}

}  // namespace strandproof::host::archive
