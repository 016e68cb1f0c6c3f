#include "host-tool/report/marks.hpp"

#include <fmt/core.h>

#include <kainjow/mustache.hpp>
#include <set>
#include <utility>

#include "host-tool/base/text.hpp"
#include "host-tool/check/trend.hpp"

namespace strandproof::host::report {
namespace {

using kainjow::mustache::data;

data line(const std::string& text) {
  data d;
  d.set("text", text);
  return d;
}

data sign_offs(const archive::Archive& kept, std::uint32_t bed) {
  data rows{data::type::list};
  for (const auto& s : kept.sign_offs(bed)) {
    rows.push_back(
        line(fmt::format("signed off by {} at {}: {} up to record {}, SHA-256 {}", shown(s.by),
                         format_time(s.at_s), s.pulls, s.last_record, s.digest_hex.substr(0, 16))));
  }
  return rows;
}

data trends(const archive::Archive& kept, const std::vector<PullOfBed>& pulls) {
  std::set<std::pair<std::uint32_t, std::uint32_t>> tables;
  for (const auto& p : pulls) tables.insert({p.stored.device, p.record.table_revision()});
  data rows{data::type::list};
  for (const auto& [jack, revision] : tables) {
    const auto trend = check::trend_of(kept, jack, revision);
    rows.push_back(
        line(fmt::format("{}jack {}, table revision {}: {}", check::warns(trend) ? "WARNING: " : "", jack,
                         revision, check::text(trend))));
  }
  return rows;
}

}  // namespace

Doubts doubts_of(const archive::Archive& kept, const std::vector<PullOfBed>& pulls) {
  Doubts all;
  for (const auto& p : pulls) {
    if (!all.contains(p.stored.device)) all[p.stored.device] = check::doubts(kept, p.stored.device);
  }
  return all;
}

std::string doubt_of(const Doubts& doubts, const PullOfBed& pull) {
  return check::doubt_about(doubts.at(pull.stored.device), pull.record.table_revision(),
                            pull.stored.sequence);
}

void add_marks(data& page, const archive::Archive& kept, std::uint32_t bed,
               const std::vector<PullOfBed>& pulls, const Doubts& doubts) {
  std::set<std::uint32_t> positions;
  for (const auto& p : pulls) {
    if (!doubt_of(doubts, p).empty()) positions.insert(p.record.position());
  }
  if (!positions.empty()) {
    std::string text = "positions";
    for (const auto position : positions) text += fmt::format(" {}", position);
    page.set("in_doubt",
             text + ": their gauge table was withdrawn; the responsible engineer decides on each");
  }
  page.set("trends", trends(kept, pulls));
  page.set("sign_offs", sign_offs(kept, bed));
}

}  // namespace strandproof::host::report
