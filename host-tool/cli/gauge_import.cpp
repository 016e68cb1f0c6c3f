#include <fmt/core.h>

#include <cmath>
#include <ctime>

#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/commands.hpp"
#include "host-tool/cli/gauge_print.hpp"
#include "host-tool/gauge/held_check.hpp"
#include "host-tool/gauge/pairs.hpp"
#include "host-tool/gauge/table_file.hpp"

namespace strandproof::host::cli {
namespace {

std::int64_t time_of(const std::string& text, const char* option) {
  const auto t = parse_time(text);
  if (!t)
    throw bad_input(fmt::format("{} '{}' is no time; write 2026-05-04T09:30:00+02:00", option, shown(text)));
  return *t;
}

// ISO 7500-1 has these.
int class_of(double stated) {
  for (const int tenths : {5, 10, 20, 30}) {
    if (stated == tenths / 10.0) return tenths;
  }
  throw bad_input(fmt::format(
      "--class {} is none of 0.5, 1, 2, 3; write that of the certificate, or leave it out", stated));
}

gauge::Origin origin_of(const std::string& text) {
  for (const auto o : {gauge::Origin::simulated, gauge::Origin::emulated, gauge::Origin::hardware}) {
    if (text == gauge::origin_text(o)) return o;
  }
  throw bad_input(fmt::format("--origin '{}' is none of simulated, emulated, hardware", shown(text)));
}

}  // namespace

Exit gauge_import(const Common& common, const GaugeImport& o) {
  gauge::Certificate c{};
  c.issuer = shown(o.issuer, 60);
  c.number = shown(o.certificate, 60);
  c.jack_serial = o.jack;
  c.sensor_serial = {o.sensor_a, o.sensor_b};
  c.origin = origin_of(o.origin);
  c.calibrated_s = time_of(o.calibrated, "--calibrated");
  c.due_s = time_of(o.due, "--due");
  c.expanded_ppm = o.uncertainty_ppm;
  if (o.stated_class) c.class_tenths = class_of(*o.stated_class);
  const std::string text = read_file(o.pairs);
  const auto table = gauge::read_pairs(text, o.pairs, gauge::csv_options(o.separator, o.decimal), c);
  gauge::check_dates(gauge::held(table), o.pairs, std::time(nullptr));
  write_table(common, table, {o.pairs, sha256_hex(text)}, o.output);
  return Exit::good;
}

}  // namespace strandproof::host::cli
