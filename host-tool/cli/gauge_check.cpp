// `gauge check`: a spot run against the table that the jack works with.
#include <fmt/core.h>

#include <ctime>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/spot.hpp"
#include "host-tool/cli/tables.hpp"

namespace strandproof::host::cli {
namespace {

struct Against {
  gauge::HeldTable table;
  std::uint32_t revision;
  std::uint64_t last_record;
};

Against at_the_jack(const Common& common) {
  auto c = connect(common);
  const wire::Tables t = read_tables(c);
  if (t.withdrawn_reason() != 0 || t.voided_part() != 0) {
    throw refused(fmt::format(
        "the jack's table {}: a spot run would prove nothing about it; calibrate, and load what comes of it",
        t.withdrawn_reason() != 0 ? "was withdrawn, " + texts::reason(t.withdrawn_reason())
                                  : "is void, part changed: " + texts::part(t.voided_part())));
  }
  Against a{};
  a.table = read_active(c, a.revision);
  a.last_record = c.session->peer().identity()->last_record();
  return a;
}

// By what this archive loaded. Records that it has not fetched count as made after the check.
Against in_the_archive(const archive::Archive& kept, std::uint32_t jack) {
  const std::uint32_t revision = check::active_revision(kept, jack);
  const auto held = kept.table(jack, revision);
  if (!held)
    throw refused(
        fmt::format("this archive loaded no table into jack {}; check at the jack, without --offline", jack));
  if (check::is_withdrawn(kept, jack, revision))
    throw refused(fmt::format("jack {}: revision {} was withdrawn; calibrate, and load what comes of it",
                              jack, revision));
  return {gauge::from_json(held->json, "archive"), revision, kept.last_sequence(jack)};
}

void print_judgement(const check::Judgement& j, const Against& a, std::uint32_t jack) {
  fmt::print("spot run against jack {}, table revision {}\n", jack, a.revision);
  fmt::print("{:>12} {:>13} {:>10} {:>9} {:>10} {:>9}\n", "set point kN", "reference kN", "A kN", "error %",
             "B kN", "error %");
  for (const auto& s : j.spots) {
    fmt::print("{:>12.1f} {:>13.3f} {:>10.3f} {:>+9.2f} {:>10.3f} {:>+9.2f}\n", s.set_point_n / 1e3,
               s.reference_n / 1e3, s.shown_n[0] / 1e3, 100.0 * s.error[0], s.shown_n[1] / 1e3,
               100.0 * s.error[1]);
  }
  fmt::print("zero: A {:+.0f} mbar, B {:+.0f} mbar (limit {:.0f} mbar, common practice)\n", j.zero_mbar[0],
             j.zero_mbar[1], check::zero_limit_mbar(a.table, 0));
  fmt::print(
      "limits: pass within {:.2f} % (the table's expanded uncertainty; below a fifth of the largest force "
      "the same "
      "in N), withdraw beyond {:.1f} % (rule of practice)\n",
      100.0 * j.pass_ratio, 100.0 * check::withdraw_ratio);
  fmt::print("{}: largest error {:+.2f} %; {}\n", check::verdict_text(j.verdict), 100.0 * j.worst_error,
             check::advice(j.verdict));
}

}  // namespace

Exit gauge_check(const Common& common, const GaugeCheck& o) {
  const auto runs = gauge::read_runs(read_file(o.spots), o.spots, gauge::csv_options(o.separator, o.decimal));
  auto kept = open_archive(common);
  const Against a = o.offline ? in_the_archive(kept, runs.jack_serial) : at_the_jack(common);
  const auto j = check::judge(runs, a.table, std::time(nullptr));
  kept.add({runs.jack_serial, archive::Act::checked, std::time(nullptr), o.by, o.why, a.revision,
            sha256_hex(check::held_bytes(a.table, a.revision)), "", a.last_record,
            static_cast<std::uint32_t>(j.verdict), check::to_json(j)});
  if (common.json) {
    fmt::print("{}\n", check::to_json(j));
  } else {
    print_judgement(j, a, runs.jack_serial);
  }
  return j.verdict == check::Verdict::pass ? Exit::good : Exit::refused;
}

}  // namespace strandproof::host::cli
