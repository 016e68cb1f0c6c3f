#include "host-tool/bundle/page.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <kainjow/mustache.hpp>
#include <set>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/page_template.hpp"
#include "host-tool/bundle/rows.hpp"
#include "host-tool/proof/head_file.hpp"
#include "host-tool/report/page_style.hpp"
#include "host-tool/report/page_template.hpp"
#include "host-tool/report/stressing_record.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::bundle {
namespace {

using kainjow::mustache::data;

constexpr std::uint32_t origin_hardware = 3;  // Identity.origin

// The same data in an archive in memory: the sheets are then what the stressing record of an archive is.
void fill(archive::Archive& into, const Data& from) {
  into.add(from.records);
  for (const auto& i : from.instructions) into.add(i);
  std::set<std::pair<std::uint32_t, std::uint32_t>> added;
  for (const auto& h : from.history) {
    const auto table = std::ranges::find_if(
        from.tables, [&](const auto& t) { return t.device == h.device && t.revision == h.revision; });
    const bool first = h.act == archive::Act::loaded && table != from.tables.end() &&
                       added.insert({h.device, h.revision}).second;
    first ? into.add(*table, h) : into.add(h);
  }
  for (const auto& e : from.entries) {
    if (!e.withheld) into.add(e);
  }
}

std::set<std::uint32_t> beds_of(const Data& from) {
  std::set<std::uint32_t> beds;
  for (const auto& stored : from.records) {
    wire::Record r;
    if (r.ParseFromString(stored.body) && r.has_pull() &&
        (from.scope.bed == 0 || r.pull().bed() == from.scope.bed))
      beds.insert(r.pull().bed());
  }
  return beds;
}

std::set<std::uint32_t> origins_of(const Data& from) {
  std::set<std::uint32_t> origins;
  for (const auto& s : from.seen) origins.insert(s.origin);
  for (const auto& stored : from.records) {
    wire::Record r;
    if (r.ParseFromString(stored.body) && r.has_pull()) origins.insert(r.pull().origin());
  }
  return origins;
}

std::string scope_text(const Data& from) {
  std::string text;
  for (const auto& j : from.jacks) {
    const auto of_jack = [&](const auto& r) { return r.device == j.serial; };
    const auto first = std::ranges::find_if(from.records, of_jack);
    const auto count = std::ranges::count_if(from.records, of_jack);
    if (first != from.records.end())
      text += fmt::format("{}jack {}: {}, from {} to {}", text.empty() ? "" : "; ", j.serial,
                          counted(count, "record"), first->sequence, (first + count - 1)->sequence);
  }
  return text + (from.scope.bed == 0
                     ? ""
                     : "; from after the last pull of another bed to the next signature of the jack");
}

std::string title_of(const Data& from) {
  if (from.scope.bed != 0) return fmt::format("bed {}", from.scope.bed);
  const bool part = from.scope.first != 0 || from.scope.last != 0;
  return fmt::format("jack {}{}", from.scope.jack, part ? ", part of its log" : "");
}

std::vector<std::string> head_lines(const Data& from) {
  std::vector<std::string> lines;
  for (const auto& j : from.jacks) {
    if (j.head) lines.push_back(proof::head_line(*j.head));
  }
  return lines;
}

data sheets(const Data& from) {
  archive::Archive in_memory{archive::in_memory};
  fill(in_memory, from);
  data all{data::type::list};
  for (const auto bed : beds_of(from)) {
    data d;
    d.set("html", report::stressing_sheet(in_memory, bed, head_lines(from)).html);
    all.push_back(d);
  }
  return all;
}

data lines(const std::vector<std::string>& texts) {
  data all{data::type::list};
  for (const auto& text : texts) {
    data d;
    d.set("text", text);
    all.push_back(d);
  }
  return all;
}

void add_origin(const Data& from, data& d) {
  const auto origins = origins_of(from);
  const bool simulated = origins.contains(1) || origins.contains(2);
  const bool steel = origins == std::set{origin_hardware};
  d.set("simulated", data{simulated});
  if (simulated) d.set("origin", "SIMULATED - NOT A RECORD OF STEEL");
  if (!simulated && !steel) d.set("origin", "ORIGIN NOT STATED - NOT A RECORD OF STEEL");
}

}  // namespace

std::string page_of(const Data& from, const Proof& proof, const std::string& digest_hex) {
  data d;
  d.set("title", title_of(from));
  d.set("scope", scope_text(from));
  d.set("style", std::string{report::page_style} + report::sheet_style + bundle_style);
  d.set("digest", digest_hex);
  d.set("bad", data{!proof.faults.empty()});
  d.set("faults", lines(proof.faults));
  d.set("holds", lines(proof.holds));
  d.set("open", lines(proof.open));
  d.set("any_open", data{!proof.open.empty()});
  d.set("sheets", sheets(from));
  add_origin(from, d);
  add_rows(d, from);
  kainjow::mustache::mustache form{bundle_template};
  return form.render(d);
}

}  // namespace strandproof::host::bundle
