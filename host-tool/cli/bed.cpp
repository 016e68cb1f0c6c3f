// Commands about a bed: send the next instruction, progress, entries after a break, the stressing record.
#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <ctime>
#include <filesystem>
#include <map>

#include "host-tool/archive/archive.hpp"
#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bed/plan_file.hpp"
#include "host-tool/check/doubt.hpp"
#include "host-tool/check/held_bytes.hpp"
#include "host-tool/check/trend.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "host-tool/proof/head_file.hpp"
#include "host-tool/report/sign_off.hpp"
#include "host-tool/report/stressing_record.hpp"

namespace strandproof::host::cli {
namespace {

using wire::PullInstruction;

// Of 1,000 simulated pulls the true force passed the jack force by 0.29 % at most (tests/accuracy): control
// uses 0.3 %; the rest of the margin is the table's uncertainty.
constexpr double control_margin = 0.003;
constexpr double margin_without_table = 0.02;  // the 2 % rule of practice

std::uint32_t micrometre(double m) {
  return static_cast<std::uint32_t>(std::lround(m * 1e6));
}
std::uint32_t newton(double n) {
  return static_cast<std::uint32_t>(std::lround(n));
}
std::uint32_t ppm(double fraction) {
  return static_cast<std::uint32_t>(std::lround(fraction * 1e6));
}

// The table's file, if this archive has it: a file knows its lowest force, the jack's bytes do not.
std::optional<gauge::HeldTable> known_table(const archive::Archive& kept, std::uint32_t jack,
                                            std::uint32_t revision) {
  const auto known = kept.table(jack, revision);
  if (!known) return std::nullopt;
  return gauge::from_json(known->json, "archive");
}

double table_margin(const std::optional<gauge::HeldTable>& known) {
  const auto ppm = known ? known->uncertainty_ppm : 0;
  return ppm == 0 ? margin_without_table : control_margin + ppm * 1e-6;  // 0: not stated
}

PullInstruction instruction_of(const bed::Plan& plan, const bed::Position& at, const bed::Pull& pull,
                               std::uint32_t id) {
  PullInstruction m;
  m.set_id(id);
  m.set_bed(plan.bed);
  m.set_position(at.number);
  m.set_bed_name(plan.bed_name);
  m.set_strand_name(plan.strand.name);
  m.set_reel(at.reel);
  m.set_jack_serial(plan.jack_serial);
  m.set_initial_n(newton(plan.initial_n));
  m.set_seated_n(newton(pull.seated_n));
  m.set_jack_n(newton(pull.jack_n));
  m.set_limit_n(newton(pull.limit_n));
  m.set_stiffness_n_per_m(newton(pull.ram_n_per_m));
  m.set_stiffness_ppm(ppm(plan.stiffness_uncertainty));
  m.set_elongation_um(micrometre(pull.gross_m));
  m.set_elongation_min_um(micrometre(pull.gross_m - pull.window_m));
  m.set_elongation_max_um(micrometre(pull.gross_m + pull.window_m));
  m.set_draw_in_um(micrometre(plan.draw_in_m));
  m.set_draw_in_max_um(micrometre(plan.draw_in_max_m));
  m.set_slack_max_um(micrometre(plan.slack_max_m));
  m.set_force_window_ppm(ppm(plan.force_window));
  return m;
}

void print_numbers(const bed::Plan& plan, const bed::Position& at, const bed::Pull& p) {
  fmt::print("bed {} \"{}\" position {}: {}, {:.1f} m, reel {}\n", plan.bed, shown(plan.bed_name), at.number,
             shown(plan.strand.name), plan.length_m, at.reel);
  fmt::print(
      "  initial {:.1f} kN, seated {:.2f} kN, overpull {:.2f} kN, jack force {:.2f} kN, limit {:.2f} kN "
      "(code {:.1f} kN)\n",
      plan.initial_n / 1e3, p.seated_n / 1e3, p.overpull_n / 1e3, p.jack_n / 1e3, p.limit_n / 1e3,
      p.code_limit_n / 1e3);
  fmt::print(
      "  ram travel from the datum {:.1f} mm +- {:.1f} mm, mark after seating {:.1f} mm, ram sees {:.1f} "
      "N/mm\n",
      p.gross_m * 1e3, p.window_m * 1e3, p.mark_after_m * 1e3, p.ram_n_per_m / 1e3);
  if (const unsigned n = bed::strokes(plan, p); n > 1) {
    fmt::print("  more than one stroke of {:.0f} mm: about {}; the jack divides the pull itself\n",
               plan.stroke_m * 1e3, n);
  }
}

// Warned of, not refused: the crew may mean to calibrate in between. The jack refuses when it is due.
void warn_of_due(const bed::Plan& plan, std::uint32_t revision, std::int64_t due_s) {
  const std::int64_t now = std::time(nullptr);
  if (revision == 0 || due_s > std::max(now, plan.until_s.value_or(now))) return;
  fmt::print(
      stderr, "warning: gauge table revision {} {} {}; calibrate before this bed is pulled\n", revision,
      due_s <= now ? "was due" : "falls due within this bed (last_day of the plan):", format_time(due_s));
}

// The pendant would refuse it too, but only when the crew stands at the strand.
void check_reach(const bed::Plan& plan, const bed::Pull& pull, const gauge::HeldTable& t,
                 std::uint32_t revision) {
  if (plan.initial_n < t.lowest_initial_n) {
    throw refused(
        fmt::format("initial force {:.2f} kN lies below {:.2f} kN, the lowest that gauge table revision {} "
                    "supports; raise it in the plan, or calibrate lower",
                    plan.initial_n / 1e3, t.lowest_initial_n / 1e3, revision));
  }
  const std::uint32_t top = std::min(t.increasing[0].back().force_n, t.increasing[1].back().force_n);
  if (pull.jack_n > top) {
    throw refused(
        fmt::format("jack force {:.2f} kN lies above {:.2f} kN, the largest of gauge table revision {}; "
                    "calibrate the jack higher, or plan a lower force",
                    pull.jack_n / 1e3, top / 1e3, revision));
  }
}

void check_held_table(Connection& c, const bed::Plan& plan, const bed::Pull& pull,
                      const std::optional<gauge::HeldTable>& known) {
  const wire::Tables tables = *c.session->peer().tables();
  if (tables.active() == 0) return;
  const auto& s = slot(tables, tables.active());
  const auto held = known ? known : check::from_held_bytes(read_slot(c, tables.active(), s));
  if (held) check_reach(plan, pull, *held, s.revision());
}

void check_table(Connection& c, const bed::Plan& plan, const archive::Archive& kept) {
  const std::uint32_t jack = c.session->peer().identity()->jack_serial();
  const wire::Tables tables = read_tables(c);
  if (tables.active() == 0) return;  // the jack says itself that it has none
  const auto& s = slot(tables, tables.active());
  if (tables.withdrawn_reason() == 0 && check::is_withdrawn(kept, jack, s.revision())) {
    throw refused(
        fmt::format("gauge table revision {} was withdrawn in this archive and the jack does not know "
                    "it; run gauge withdraw at the jack, then load a newly calibrated one",
                    s.revision()));
  }
  const auto pending = check::pending(kept, jack, s.revision());
  if (pending.withdraw) throw refused(pending.text);
  if (!pending.text.empty()) fmt::print(stderr, "warning: {}\n", pending.text);
  if (tables.refusal() != 0)
    fmt::print(stderr, "warning: the jack will not arm: {}\n", texts::refusal(tables.refusal()));
  warn_of_due(plan, s.revision(), static_cast<std::int64_t>(s.due_s()));
  c.session->must([](proto::Peer& p, proto::Peer::Done done) { p.read_status(std::move(done)); });
  if (c.session->peer().status()->clock_quality() >= clock_lost)
    fmt::print(stderr,
               "warning: the jack will not arm: its clock is not known; set it: strandproof clock set\n");
  const auto trend = check::trend_of(kept, jack, s.revision());
  if (check::warns(trend)) fmt::print(stderr, "warning: {}\n", check::text(trend));
}

const bed::Position& position_of(const bed::Plan& plan, std::uint32_t number) {
  for (const auto& p : plan.positions) {
    if (p.number == number) return p;
  }
  throw bad_input(
      fmt::format("the plan has no position {}; it has {} positions", number, plan.positions.size()));
}

}  // namespace

Exit bed_send(const Common& common, const BedSend& o) {
  const std::string text = read_file(o.plan);
  const auto plan = bed::read_plan(text, o.plan);
  auto kept = open_archive(common);
  const auto pulls = report::pulls_of_bed(kept, plan.bed);
  std::optional<std::uint32_t> number = o.position;
  for (const auto& p : plan.positions) {
    if (number) break;
    if (!report::is_good(pulls, p.number)) number = p.number;
  }
  if (!number)
    throw refused(
        fmt::format("every position of bed {} has a pull within limits; nothing to send", plan.bed));
  const auto& at = position_of(plan, *number);
  if (o.dry) {
    const auto revision = check::active_revision(kept, plan.jack_serial);  // what this archive loaded last
    const auto known = known_table(kept, plan.jack_serial, revision);
    const auto pull = bed::work_out(plan, at, table_margin(known));
    print_numbers(plan, at, pull);
    bed::check(plan, at, pull);
    if (known) {
      check_reach(plan, pull, *known, revision);
      warn_of_due(plan, revision, known->due_s);
    }
    return Exit::good;
  }
  auto c = connect(common);
  const wire::Identity i = c.session->identify();
  check_table(c, plan, kept);
  const auto known = known_table(kept, i.jack_serial(), i.table_revision());
  const auto pull = bed::work_out(plan, at, table_margin(known));
  print_numbers(plan, at, pull);
  bed::check(plan, at, pull);
  check_held_table(c, plan, pull, known);
  const auto m = instruction_of(plan, at, pull, kept.next_instruction_id(i.jack_serial()));
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) { p.send_instruction(m, std::move(done)); });
  const std::int64_t now = std::time(nullptr);
  const std::string digest = kept.keep(std::filesystem::path{o.plan}.filename().string(), text, now);
  kept.add(archive::SentInstruction{i.jack_serial(), m.id(), m.bed(), m.position(), m.SerializeAsString(),
                                    now, digest});
  fmt::print("sent as instruction {}; the person at the pendant confirms it there\n", m.id());
  return Exit::good;
}

Exit bed_progress(const Common& common, std::uint32_t bed_number) {
  auto kept = open_archive(common);
  struct Last {
    std::string verdict = "sent, no pull fetched yet";
    const wire::PullRecord* pull = nullptr;
  };
  std::map<std::uint32_t, Last> last;
  for (const auto& i : kept.instructions(bed_number)) last[i.position] = {};
  const auto pulls = report::pulls_of_bed(kept, bed_number);
  for (const auto& p : pulls) last[p.record.position()] = {texts::verdict(p.record.verdict()), &p.record};
  for (const auto& [position, what] : last) {
    const double locked_n = what.pull == nullptr ? 0.0 : what.pull->locked_n();
    const double travel_um = what.pull == nullptr ? 0.0 : what.pull->elongation_um();
    if (common.json) {
      fmt::print("{{\"position\":{},\"verdict\":\"{}\",\"locked_n\":{},\"elongation_um\":{}}}\n", position,
                 what.verdict, locked_n, travel_um);
    } else if (what.pull == nullptr) {
      fmt::print("position {:>3}: {}\n", position, what.verdict);
    } else {
      fmt::print("position {:>3}: {}, locked {:.2f} kN, elongation {:.1f} mm\n", position, what.verdict,
                 locked_n / 1e3, travel_um / 1e3);
    }
  }
  if (last.empty() && !common.json)
    fmt::print("nothing known of bed {}; send an instruction, or fetch the log\n", bed_number);
  return last.empty() ? Exit::refused : Exit::good;
}

Exit bed_enter(const Common& common, const BedEnter& o) {
  if (o.replaced.has_value() == o.inspected.has_value()) {
    throw bad_input("say one of --replaced POSITION and --inspected POSITION");
  }
  auto c = connect(common);
  (void)c.session->identify();
  wire::BedEntry m;
  m.set_bed(o.bed);
  m.set_position(o.replaced ? *o.replaced : *o.inspected);
  m.set_kind(o.replaced ? 1 : 2);
  m.set_by(o.by.substr(0, 23));
  c.session->must([&](proto::Peer& p, proto::Peer::Done done) { p.enter(m, std::move(done)); });
  fmt::print("entered in the jack's log: bed {} position {}, {} by {}\n", m.bed(), m.position(),
             o.replaced ? "strand replaced" : "neighbours inspected", shown(m.by()));
  return Exit::good;
}

namespace {

// A line for each jack of the bed whose head this host holds.
std::vector<std::string> held_heads(const Common& common, const archive::Archive& kept, std::uint32_t bed) {
  std::vector<std::string> lines;
  for (const auto& own : kept.spans(bed)) {
    if (const auto held = proof::load_head(common.keys, own.device); held) {
      lines.push_back(proof::head_line(held->head));
    }
  }
  return lines;
}

}  // namespace

Exit bed_record(const Common& common, const BedRecord& o) {
  auto kept = open_archive(common);
  const auto page =
      report::stressing_record(kept, o.bed, std::time(nullptr), held_heads(common, kept, o.bed));
  write_output(o.output, page.html, "<title>Stressing record", "a stressing record");
  fmt::print("written: {} ({}, {} of {} within limits{})\n", o.output, counted(page.pulls, "pull"), page.good,
             page.positions, page.simulated ? "; SIMULATED, can not be signed off" : "");
  return page.good == page.positions && page.positions > 0 ? Exit::good : Exit::refused;
}

Exit bed_sign(const Common& common, const BedSign& o) {
  auto kept = open_archive(common);
  const auto s = report::sign_off_of(kept, o.bed, o.by, std::time(nullptr));
  kept.add(s);
  fmt::print("bed {} signed off by {}: {} up to record {}, SHA-256 {}\n", s.bed, shown(s.by),
             counted(s.pulls, "pull"), s.last_record, s.digest_hex);
  return Exit::good;
}

}  // namespace strandproof::host::cli
