#include "proto/peer/snapshot.hpp"

#include <algorithm>

namespace strandproof::proto {
namespace {

constexpr std::int32_t flag_active = 1, flag_lowest = 2;

std::vector<Margin> margins_of(const std::string& bytes) {
  std::vector<Margin> margins;
  for (const Row& r : rows_of(bytes, 4).value_or(std::vector<Row>{})) {
    margins.push_back({.cause = static_cast<std::uint32_t>(r[0]),
                       .value = r[1],
                       .limit = r[2],
                       .active = (r[3] & flag_active) != 0,
                       .lowest = (r[3] & flag_lowest) != 0});
  }
  return margins;
}

void add_samples(const wire::Snapshot& part, std::vector<TripSample>& to) {
  std::int32_t at = part.from_ms();
  for (const Row& r : rows_of(part.rows(), 4).value_or(std::vector<Row>{})) {
    const auto bits = static_cast<std::uint32_t>(r[3]);
    to.push_back({.at_ms = at++,
                  .pressure_a = static_cast<std::uint16_t>(r[0]),
                  .pressure_b = static_cast<std::uint16_t>(r[1]),
                  .stroke = static_cast<std::uint16_t>(r[2]),
                  .inputs = static_cast<std::uint16_t>(bits & 0xFFFFU),
                  .outputs = static_cast<std::uint8_t>(bits >> 16U & 0xFFU)});
  }
}

std::vector<TripSpan> missing_of(const TripSnapshot& s, std::int32_t begin_ms) {
  std::vector<TripSpan> missing;
  std::int32_t next = begin_ms;
  const auto up_to = [&](std::int32_t end) {
    if (next < end) missing.push_back({next, end - 1});
  };
  for (const TripSample& sample : s.samples) {
    up_to(sample.at_ms);
    next = sample.at_ms + 1;
  }
  up_to(begin_ms + static_cast<std::int32_t>(s.total));
  return missing;
}

}  // namespace

TripSnapshot snapshot_of(std::vector<wire::Snapshot> parts) {
  std::sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) { return a.part() < b.part(); });
  TripSnapshot s;
  s.head.set_part(1);
  std::int32_t begin_ms = 0;
  for (const wire::Snapshot& part : parts) {
    if (part.part() == 0) {
      s.head = part;
      s.margins = margins_of(part.rows());
    } else {
      s.total = part.total();
      begin_ms = part.begin_ms();
      add_samples(part, s.samples);
    }
  }
  s.missing = missing_of(s, begin_ms);
  return s;
}

double measured_of(std::uint16_t counts, double span) {
  const double milliampere = counts * 24.0 / 65535.0;
  return (milliampere - 4.0) / 16.0 * span;
}

}  // namespace strandproof::proto
