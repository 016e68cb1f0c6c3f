#include <fmt/core.h>

#include <ctime>

#include "host-tool/archive/archive.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/connect.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {
namespace {

void fill(wire::GaugeColumn* to, const std::vector<gauge::Point>& points) {
  for (const auto& p : points) {
    to->add_pressure_mbar(p.pressure_mbar);
    to->add_force_n(p.force_n);
  }
}

std::string wire_bytes(const gauge::HeldTable& t, std::uint32_t revision) {
  wire::GaugeTable m;
  m.set_revision(revision);
  m.set_jack_serial(t.jack_serial);
  m.set_sensor_a_serial(t.sensor_serial[0]);
  m.set_sensor_b_serial(t.sensor_serial[1]);
  m.set_calibrated_s(static_cast<std::uint64_t>(t.calibrated_s));
  m.set_due_s(static_cast<std::uint64_t>(t.due_s));
  m.set_class_tenths(t.class_tenths);
  m.set_uncertainty_ppm(t.uncertainty_ppm);
  fill(m.mutable_a_increasing(), t.increasing[0]);
  fill(m.mutable_b_increasing(), t.increasing[1]);
  if (!t.decreasing[0].empty()) fill(m.mutable_a_decreasing(), t.decreasing[0]);
  if (!t.decreasing[1].empty()) fill(m.mutable_b_decreasing(), t.decreasing[1]);
  return m.SerializeAsString();
}

// Asked before anything is sent: the jack would refuse as well, but here the file can be named.
void check_identity(const gauge::HeldTable& t, const wire::Identity& i, const std::string& file) {
  if (t.jack_serial != i.jack_serial()) {
    throw refused(fmt::format("{}: made for jack {}, this is jack {}; calibrate this jack", file,
                              t.jack_serial, i.jack_serial()));
  }
  if (t.sensor_serial[0] != i.sensor_a_serial() || t.sensor_serial[1] != i.sensor_b_serial()) {
    throw refused(
        fmt::format("{}: made with sensors {} and {}, this jack has {} and {}; calibrate again with them",
                    file, t.sensor_serial[0], t.sensor_serial[1], i.sensor_a_serial(), i.sensor_b_serial()));
  }
  const bool simulated_jack = i.origin() != 3;
  if (!simulated_jack && t.origin != gauge::Origin::hardware) {
    throw refused(fmt::format("{}: is SIMULATED; a real jack takes only a table measured on it", file));
  }
}

}  // namespace

Exit gauge_load(const Common& common, const GaugeLoad& o) {
  const std::string text = read_file(o.table);
  const auto table = gauge::from_json(text, o.table);
  auto c = connect(common);
  archive::Archive kept{common.archive};
  const auto& before = c.session->identify();
  check_identity(table, before, o.table);
  const std::uint32_t revision = o.revision.value_or(before.table_revision() + 1);
  const std::string bytes = wire_bytes(table, revision);
  const std::vector<std::uint8_t> signed_bytes(bytes.begin(), bytes.end());
  const auto signature = c.keys.table.sign(signed_bytes);
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) {
    p.load_table(signed_bytes, revision, signature, std::move(done));
  });
  const auto& after = c.session->identify();
  if (after.table_revision() != revision) {
    throw bad_input(fmt::format("the jack took the table but now says revision {}; load it again",
                                after.table_revision()));
  }
  const std::int64_t now = std::time(nullptr);
  kept.add(archive::LoadedTable{after.jack_serial(), revision, sha256_hex(bytes), text, now},
           {after.jack_serial(), archive::Act::loaded, now, "", "", revision, sha256_hex(bytes), "",
            after.last_record(), 0, ""});
  fmt::print("jack {} now works with table revision {} ({} bytes, digest {}), due {}\n", after.jack_serial(),
             revision, bytes.size(), sha256_hex(bytes).substr(0, 16), format_time(table.due_s));
  return Exit::good;
}

Exit gauge_show(const Common& common, const GaugeShow& o) {
  auto c = connect(common);
  const auto& i = c.session->identify();
  if (i.table_revision() == 0) {
    fmt::print("jack {} holds no gauge table\n", i.jack_serial());
    return Exit::refused;
  }
  fmt::print("jack {} works with table revision {}\n", i.jack_serial(), i.table_revision());
  const auto known = archive::Archive{common.archive}.table(i.jack_serial(), i.table_revision());
  if (!known) {
    fmt::print("this archive did not load it: nothing to compare with\n");
    return Exit::refused;
  }
  const auto table = gauge::from_json(known->json, common.archive);
  fmt::print("loaded {}, digest {}; calibrated {}, due {}; expanded uncertainty {:.2f} %\n",
             format_time(known->loaded_s), known->sha256_hex.substr(0, 16), format_time(table.calibrated_s),
             format_time(table.due_s), table.uncertainty_ppm / 1e4);
  fmt::print("{:>14} {:>10} {:>14} {:>10}\n", "A mbar", "N", "B mbar", "N");
  for (std::size_t n = 0; n < table.increasing[0].size() && n < table.increasing[1].size(); ++n) {
    fmt::print("{:>14} {:>10} {:>14} {:>10}\n", table.increasing[0][n].pressure_mbar,
               table.increasing[0][n].force_n, table.increasing[1][n].pressure_mbar,
               table.increasing[1][n].force_n);
  }
  if (o.file.empty()) return Exit::good;
  const bool same = wire_bytes(gauge::from_json(read_file(o.file), o.file), i.table_revision()) ==
                    wire_bytes(table, i.table_revision());
  fmt::print("{} {} what was loaded\n", o.file, same ? "is" : "is NOT");
  return same ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
