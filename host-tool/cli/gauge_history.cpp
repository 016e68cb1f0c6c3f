// `gauge history`: what was done to the tables, by whom, when and why; the jack's own records beside it.
#include <fmt/core.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/check/spot.hpp"
#include "host-tool/cli/tables.hpp"
#include "host-tool/report/lines.hpp"

namespace strandproof::host::cli {
namespace {

using Json = nlohmann::ordered_json;

enum class Event : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};

bool about_tables(std::uint32_t code) {
  using enum Event;
  for (const auto e :
       {table_loaded, table_withdrawn, table_undone, key_enrolled, key_revoked, part_changed, table_bad}) {
    if (code == static_cast<std::uint32_t>(e)) return true;
  }
  return false;
}

std::string act_text(const archive::HistoryEntry& e) {
  switch (e.act) {
    case archive::Act::loaded:
      return fmt::format("revision {} loaded", e.revision);
    case archive::Act::undone:
      return fmt::format("revision {} undone, revision {} active again", e.revision, shown(e.details));
    case archive::Act::withdrawn:
      return fmt::format("revision {} WITHDRAWN: {}", e.revision, texts::reason(e.outcome));
    default:
      return fmt::format("revision {} checked: {}", e.revision,
                         check::verdict_text(static_cast<check::Verdict>(e.outcome)));
  }
}

struct Line {
  std::uint64_t sequence;
  std::string text;
};

// The jack's own words go first where both tell of the same: this host entered it after the jack had done it.
std::vector<Line> history_lines(const archive::Archive& kept, std::uint32_t jack) {
  std::vector<Line> lines;
  for (const auto& stored : kept.records(jack)) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_event() || !about_tables(r.event().code())) continue;
    const auto utc = static_cast<std::int64_t>(r.event().utc_s());
    lines.push_back(
        {stored.sequence, fmt::format("{:<20}  jack  {}", utc == 0 ? "clock not set" : format_time(utc),
                                      report::event_line(r.event()))});
  }
  for (const auto& e : kept.history(jack)) {
    lines.push_back(
        {e.last_record, fmt::format("{:<20}  host  {}, by {}{}{}{}", format_time(e.at_s), act_text(e),
                                    shown(e.by), e.why.empty() ? "" : ": " + shown(e.why, 120),
                                    e.sha256_hex.empty() ? "" : ", digest " + e.sha256_hex.substr(0, 16),
                                    e.key_fingerprint.empty() ? "" : ", key " + e.key_fingerprint)});
  }
  std::stable_sort(lines.begin(), lines.end(),
                   [](const Line& a, const Line& b) { return a.sequence < b.sequence; });
  return lines;
}

Json entry_json(const archive::HistoryEntry& e) {
  return {{"at", format_time(e.at_s)},
          {"act", act_text(e)},
          {"by", e.by},
          {"why", e.why},
          {"revision", e.revision},
          {"sha256", e.sha256_hex},
          {"key", e.key_fingerprint},
          {"last_record", e.last_record},
          {"details", e.details}};
}

}  // namespace

Exit gauge_history(const Common& common, std::uint32_t named) {
  const auto kept = open_archive(common);
  const std::uint32_t jack = chosen_jack(kept, named);
  const auto known = kept.devices();
  if (std::find(known.begin(), known.end(), jack) == known.end()) {
    throw bad_input(
        fmt::format("this archive knows nothing of jack {}; look at its serial, or name the archive with "
                    "--archive",
                    jack));
  }
  if (common.json) {
    for (const auto& e : kept.history(jack)) fmt::print("{}\n", entry_json(e).dump());
    return Exit::good;
  }
  fmt::print("jack {}: what was done to its gauge tables\n", jack);
  for (const auto& line : history_lines(kept, jack)) fmt::print("{}\n", line.text);
  const std::size_t doubtful = print_doubt(kept, jack);
  if (doubtful != 0) fmt::print("strands with their calibration in doubt: {}\n", doubtful);
  return Exit::good;
}

}  // namespace strandproof::host::cli
