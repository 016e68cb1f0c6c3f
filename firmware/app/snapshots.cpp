#include "firmware/app/snapshots.hpp"

#include <algorithm>

namespace strandproof::app {
namespace {

constexpr unsigned rows_a_tick = 16;
constexpr std::int32_t flag_active = 1, flag_lowest = 2;  // of a margin; SPEC.md, section 12

template <class E>
std::uint32_t number(E e) {
  return static_cast<std::uint32_t>(e);
}

strandproof_wire_Snapshot begin(units::Ticks trip, control::Cause cause) {
  strandproof_wire_Snapshot s = strandproof_wire_Snapshot_init_zero;
  s.trip_ms = trip;
  s.cause = number(cause);
  return s;
}

template <class Rows>
void put_rows(const Rows& rows, strandproof_wire_Snapshot& s) {
  const auto bytes = rows.bytes();
  std::copy(bytes.begin(), bytes.end(), s.rows.bytes);
  s.rows.size = static_cast<pb_size_t>(bytes.size());
}

}  // namespace

// ---- taking

void Snapshots::sample(const port::RawSample& s, port::OutputBits outputs, units::Ticks now) {
  if (stage_ == Stage::write) {
    return;
  }
  if (++newest_ == rows_max) {
    newest_ = 0;
  }
  ring_[newest_] = {s.pressure_a, s.pressure_b, s.stroke, s.digital, outputs};
  newest_at_ = now;
  held_ += held_ < rows_max ? 1U : 0U;
  if (stage_ == Stage::take) {
    --wanted_;
    if (wanted_ == 0 || !s.is(port::Input::supply_ok)) {  // a failing supply: what is there has to do
      stage_ = Stage::write;
    }
  }
}

void Snapshots::trip(const control::Controller& c, units::Ticks now) {
  const bool own = stage_ == Stage::watch;
  if (own) {
    stage_ = Stage::take;
    wanted_ = rows_from - 1;  // its own tick is there
    trip_ = now;
    cause_ = c.core().cause;
    held_ = std::min(held_, rows_before + 1);
    written_ = part_number_ = 0;
    part_.clear();
  }
  if (heads_ == head_.size()) {
    ++missed_;
    return;
  }
  const bool among = stage_ == Stage::take;
  head_[heads_++] = {.trip = now,
                     .cause = c.core().cause,
                     .state = c.report().step.from,
                     .samples = among,
                     .since_ms = among ? static_cast<std::uint32_t>(now - trip_) : 0,
                     .missed = missed_,
                     .looks = c.looks()};
  missed_ = 0;
}

// ---- writing

bool Snapshots::step(const Stamp& stamp, std::uint32_t boot) {
  const bool free = log_.waiting() == 0;
  RecordBytes bytes;
  if (heads_ > 0) {
    if (!free) {
      return false;
    }
    const std::size_t size = encode_head(head_[0], stamp.device, bytes);
    log_.add({bytes.data(), size}, {boot, stamp.now, record::Priority::fault});
    head_[0] = head_[1];
    --heads_;
    return true;
  }
  if (stage_ != Stage::write || !fill_part() || !free) {
    return false;
  }
  // Samples leave the reserve of a log that is nearly full to the figures.
  const std::size_t size = encode_part(bytes);
  log_.add({bytes.data(), size}, {boot, stamp.now, record::Priority::routine});
  if (written_ == held_) {
    stage_ = Stage::watch;
    held_ = 0;  // what comes now does not follow on these rows
  }
  return true;
}

const Snapshots::Row& Snapshots::row(unsigned i) const {
  const unsigned oldest = newest_ + 1 + rows_max - held_;
  return ring_[(oldest + i) % rows_max];
}

// True when the part is full or holds the last row.
bool Snapshots::fill_part() {
  for (unsigned n = 0; n < rows_a_tick && written_ < held_; ++n) {
    const Row& r = row(written_);
    if (!part_.put({r.pressure_a, r.pressure_b, r.stroke,
                    static_cast<std::int32_t>(r.digital | std::uint32_t{r.outputs} << 16U)})) {
      return true;
    }
    ++written_;
  }
  return written_ == held_;
}

// Each detector that was looked at in the tick of the trip. More than there is room for: a bug that the
// assertion below makes impossible.
std::size_t Snapshots::encode_head(const Head& head, const port::Device& device, RecordBytes& into) {
  static_assert(control::interlocks.size() * (2 + 5 + 5 + 1) + Part::row_max <=
                sizeof(strandproof_wire_Snapshot::rows.bytes));
  strandproof_wire_Snapshot s = begin(head.trip, head.cause);
  s.state = number(head.state);
  s.no_samples = !head.samples;
  s.since_ms = head.since_ms;
  s.missed = head.missed;
  s.pressure_span_mbar = static_cast<std::uint32_t>(millibar(device.pressure_span));
  s.stroke_span_um = static_cast<std::uint32_t>(micrometres(device.stroke_span));
  Part margins;
  for (unsigned i = 0; i < head.looks.size(); ++i) {
    const control::Look& look = head.looks[i];
    const control::Cause row = control::interlocks[i].cause;
    if (look.judged) {
      (void)margins.put(
          {static_cast<std::int32_t>(row), units::to_integer(look.value), units::to_integer(look.limit),
           (look.active ? flag_active : 0) | (control::limit_is_lowest(row) ? flag_lowest : 0)});
    }
  }
  put_rows(margins, s);
  return encode_snapshot(s, into);
}

std::size_t Snapshots::encode_part(RecordBytes& into) {
  const auto begin_ms = static_cast<std::int32_t>(static_cast<std::int64_t>(newest_at_ - trip_)) + 1 -
                        static_cast<std::int32_t>(held_);
  strandproof_wire_Snapshot s = begin(trip_, cause_);
  s.part = ++part_number_;
  s.begin_ms = begin_ms;
  s.from_ms = begin_ms + static_cast<std::int32_t>(written_ - part_.rows());
  s.total = held_;
  put_rows(part_, s);
  part_.clear();
  return encode_snapshot(s, into);
}

}  // namespace strandproof::app
