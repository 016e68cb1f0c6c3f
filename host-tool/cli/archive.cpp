// Commands about the archive itself: what it holds, what people add to it, backup, restore, the minimum age.
#include "host-tool/archive/archive.hpp"

#include <fmt/core.h>

#include <array>
#include <ctime>
#include <nlohmann/json.hpp>
#include <string_view>

#include "host-tool/archive/copy.hpp"
#include "host-tool/archive/retain.hpp"
#include "host-tool/archive/self_check.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/cli/archive_words.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/report/lines.hpp"

namespace strandproof::host::cli {
namespace {

void demand_role(const std::string& by) {
  if (by.empty()) throw bad_input("who? say the role with --by, no person's name");
}

void print_entered(const archive::Entry& e) {
  fmt::print("entry {}: {}; head of the chain {}\n", e.number, report::entry_line(e), e.digest_hex);
}

archive::Entry about(const ArchiveEntry& o, archive::EntryKind kind) {
  demand_role(o.by);
  if (o.words.empty() || o.words.find('\n') != std::string::npos)
    throw bad_input("the words of an entry are one line that says something; write it");
  archive::Entry e;
  e.kind = kind;
  e.at_s = std::time(nullptr);
  e.by = o.by;
  e.device = o.jack;
  e.bed = o.bed;
  e.sequence = o.record;
  e.words = o.words;
  return e;
}

// An entry about a record names one that is held: a slip of the hand would stand for ever.
void demand_record(const archive::Archive& kept, const archive::Entry& e) {
  if (e.sequence == 0) return;
  if (e.device == 0) throw bad_input("a record belongs to a jack; name it with --jack");
  if (kept.find({.device = e.device, .first = e.sequence, .last = e.sequence}).empty())
    throw bad_input(fmt::format("the archive holds no record {} of jack {}; see strandproof log find",
                                e.sequence, e.device));
}

std::string month_line(const archive::Month& m) {
  const std::string slope = m.slopes == 0 ? "no slope seen"
                                          : fmt::format("slope {:.2f} % of the plan's k over {} pulls",
                                                        100.0 * m.slope_mean, m.slopes);
  return fmt::format("{}-{:02}: {} pulls, {} within limits, {} trips ({:.1f} per hundred pulls), {}", m.year,
                     m.month, m.pulls, m.within_limits, m.trips,
                     m.pulls == 0 ? 0.0 : 100.0 * m.trips / m.pulls, slope);
}

nlohmann::ordered_json month_json(const archive::Month& m) {
  return {{"month", fmt::format("{}-{:02}", m.year, m.month)},
          {"pulls", m.pulls},
          {"within_limits", m.within_limits},
          {"trips", m.trips},
          {"slopes", m.slopes},
          {"slope_mean", m.slope_mean},
          {"slope_deviation", m.slope_deviation}};
}

nlohmann::ordered_json statistics_json(std::uint32_t jack, const archive::Statistics& s) {
  auto months = nlohmann::ordered_json::array();
  for (const auto& m : s.months) months.push_back(month_json(m));
  return {{"jack", jack},
          {"pulls", s.pulls},
          {"trips", s.trips},
          {"trips_per_hundred", s.trips_per_hundred},
          {"slopes", s.slopes},
          {"drift_per_year", s.drift_per_year},
          {"drift_error", s.drift_error},
          {"months", months}};
}

void print_statistics(std::uint32_t jack, const archive::Statistics& s) {
  for (const auto& m : s.months) fmt::print("{}\n", month_line(m));
  fmt::print("jack {}: {} pulls, {} trips, {:.1f} per hundred pulls\n", jack, s.pulls, s.trips,
             s.trips_per_hundred);
  if (s.slopes < 3) {
    fmt::print("force against slope: {} pulls, too few for a drift\n", s.slopes);
  } else {
    fmt::print("force against slope: {:+.3f} % a year, standard error {:.3f} %\n", 100.0 * s.drift_per_year,
               100.0 * s.drift_error);
  }
}

}  // namespace

Exit archive_check(const Common& common) {
  const auto kept = open_archive(common);
  const auto c = archive::self_check(kept);
  if (common.json) {
    const nlohmann::ordered_json j{{"records", c.records},   {"unreadable", c.unreadable},
                                   {"entries", c.entries},   {"head", c.head_hex},
                                   {"rows", c.content.rows}, {"digest", c.content.digest_hex},
                                   {"faults", c.faults}};
    fmt::print("{}\n", j.dump());
  } else {
    fmt::print("{} records, {} of them not readable by this program; {} entries, head {}\n", c.records,
               c.unreadable, c.entries, c.head_hex.empty() ? "none" : c.head_hex);
    fmt::print("{} rows, SHA-256 over all of them {}\n", c.content.rows, c.content.digest_hex);
    for (const auto& fault : c.faults) fmt::print("FAULT: {}\n", fault);
  }
  return c.faults.empty() ? Exit::good : Exit::refused;
}

Exit archive_back_up(const Common& common, const std::string& file) {
  const auto done = archive::back_up(open_archive(common), file);
  fmt::print("written and read back: {} ({} rows, SHA-256 over all of them {})\n", file, done.rows,
             done.digest_hex);
  return Exit::good;
}

Exit archive_restore(const Common& common, const std::string& file) {
  const auto done = archive::restore(
      file, common.archive, {.tell = [](const std::string& line) { fmt::print(stderr, "{}\n", line); }});
  fmt::print("restored and read back: {} rows, SHA-256 over all of them {}\n", done.rows, done.digest_hex);
  return Exit::good;
}

Exit archive_statistics(const Common& common, std::uint32_t jack, const TimeSpan& span) {
  const auto kept = open_archive(common);
  const std::uint32_t device = chosen_jack(kept, jack);
  const auto s = kept.statistics(device, span.from.empty() ? 0 : moment(span.from, "--from"),
                                 span.until.empty() ? INT64_MAX : moment(span.until, "--until"));
  if (common.json) {
    fmt::print("{}\n", statistics_json(device, s).dump());
  } else {
    print_statistics(device, s);
  }
  return Exit::good;
}

Exit archive_remark(const Common& common, const ArchiveEntry& o) {
  auto kept = open_archive(common);
  const auto e = about(o, archive::EntryKind::remark);
  demand_record(kept, e);
  print_entered(kept.add(e));
  return Exit::good;
}

Exit archive_decide(const Common& common, const ArchiveEntry& o) {
  auto kept = open_archive(common);
  auto e = about(o, archive::EntryKind::disposition);
  if (e.sequence == 0) throw bad_input("a decision is on a strand's pull; name its --jack and --record");
  e.outcome = static_cast<std::uint64_t>(decision_number(o.decision));
  demand_record(kept, e);
  print_entered(kept.add(e));
  return Exit::good;
}

Exit archive_entries(const Common& common, std::uint32_t bed) {
  const auto kept = open_archive(common);
  const auto all = kept.entries();
  for (const auto& e : all) {
    if (bed != 0 && e.bed != bed) continue;
    fmt::print("{:>4} {} {}\n", e.number, format_time(e.at_s), report::entry_line(e));
  }
  const auto fault = archive::chain_fault(all);
  if (!fault.empty())
    throw refused("the chain of entries is broken: " + fault + "; restore it from a backup");
  fmt::print("{} entries, head {}\n", all.size(), all.empty() ? "none" : all.back().digest_hex);
  return Exit::good;
}

Exit archive_name(const Common& common, const std::string& name) {
  demand_archive(common);
  auto kept = open_archive(common);
  if (!name.empty()) kept.rename(name);
  const auto is = kept.identity();
  fmt::print("{} ({:016x})\n", is.name.empty() ? "no name yet; the first fetch gives one" : is.name, is.id);
  return Exit::good;
}

Exit archive_keep(const Common& common, const std::string& file) {
  auto kept = open_archive(common);
  const auto digest =
      kept.keep(std::filesystem::path{file}.filename().string(), read_file(file), std::time(nullptr));
  fmt::print("kept: {}, SHA-256 {}\n", file, digest);
  return Exit::good;
}

Exit archive_minimum_age(const Common& common, std::uint64_t days, const std::string& by) {
  auto kept = open_archive(common);
  if (days == 0) {
    fmt::print("signed beds are kept for {} days at least\n", archive::minimum_age_days(kept));
    return Exit::good;
  }
  demand_role(by);
  print_entered(archive::raise_minimum_age(kept, days, by, std::time(nullptr)));
  return Exit::good;
}

Exit archive_remove(const Common& common, const ArchiveEntry& o) {
  auto kept = open_archive(common);
  const auto e = about(o, archive::EntryKind::deletion);
  print_entered(archive::remove_bed(kept, o.bed, e.by, e.words, e.at_s));
  return Exit::good;
}

}  // namespace strandproof::host::cli
