// A small signed gauge table. The numbers are invented: 480 cm2 is a round area of no jack.
#pragma once

#include "proto/peer/keys.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::link {

struct TableBytes {
  std::vector<std::uint8_t> bytes;
  proto::Signature signature{};
};

inline void fill_column(wire::GaugeColumn& c, std::uint32_t points) {
  for (std::uint32_t i = 1; i <= points; ++i) {
    c.add_pressure_mbar(20'000 * i);
    c.add_force_n(9'600 * i);
  }
}

// The table key of a host of pipe.hpp.
inline proto::TableKey table_key(const proto::HostKeys& keys) {
  proto::Key seed{};
  seed.fill(static_cast<std::uint8_t>(keys.key[0] + 100));
  return proto::TableKey{seed};
}

inline TableBytes signed_table(std::uint32_t revision, const proto::HostKeys& keys,
                               std::uint32_t points = 12) {
  wire::GaugeTable t;
  t.set_revision(revision);
  t.set_jack_serial(4711);
  t.set_sensor_a_serial(1);
  t.set_sensor_b_serial(2);
  t.set_due_s(1'900'000'000);
  for (wire::GaugeColumn* c : {t.mutable_a_increasing(), t.mutable_a_decreasing(), t.mutable_b_increasing(),
                               t.mutable_b_decreasing()}) {
    fill_column(*c, points);
  }
  const std::string s = t.SerializeAsString();
  TableBytes out{{s.begin(), s.end()}, {}};
  out.signature = table_key(keys).sign(out.bytes);
  return out;
}

}  // namespace strandproof::link
