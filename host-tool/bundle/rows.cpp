#include "host-tool/bundle/rows.hpp"

#include <fmt/core.h>

#include <kainjow/mustache.hpp>
#include <map>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/bundle/prove_tables.hpp"
#include "host-tool/gauge/table_file.hpp"
#include "host-tool/report/lines.hpp"
#include "strandproof/wire.pb.h"

namespace strandproof::host::bundle {
namespace {

using kainjow::mustache::data;

constexpr std::size_t longest_text = 400;

// Lines stay lines; what is not printable ASCII stands in the data block alone.
std::string printable(const std::string& text) {
  std::string out;
  for (const char c : text) out += c == '\n' || c == '\t' || (c >= ' ' && c <= '~') ? c : '?';
  return out;
}

template <class List, class Row>
data rows(const List& list, Row row) {
  data all{data::type::list};
  for (const auto& one : list) {
    data d;
    row(one, d);
    all.push_back(d);
  }
  return all;
}

struct Clock {
  std::uint64_t utc_s = 0;
  std::uint32_t quality = 0;
};

// Of a kind that this program does not know: nothing.
std::optional<Clock> clock_of(const std::string& body) {
  wire::Record r;
  if (!r.ParseFromString(body)) return {};
  const auto of = [](const auto& m) { return Clock{m.utc_s(), m.clock_quality()}; };
  if (r.has_event()) return of(r.event());
  if (r.has_pull()) return of(r.pull());
  if (r.has_checkpoint()) return of(r.checkpoint());
  return {};
}

std::string utc_text(const std::optional<Clock>& c) {
  if (!c) return "-";
  if (c->utc_s == 0) return "clock not set";
  return fmt::format("{} ({})", format_time(static_cast<std::int64_t>(c->utc_s)),
                     texts::clock_quality(c->quality));
}

data clocks(const Data& from) {
  std::map<std::pair<std::uint32_t, std::string>, int> count;
  for (const auto& r : from.records) {
    const auto c = clock_of(r.body);
    if (c) ++count[{r.device, c->utc_s == 0 ? "not set" : texts::clock_quality(c->quality)}];
  }
  return rows(count, [](const auto& one, data& d) {
    d.set("jack", std::to_string(one.first.first));
    d.set("quality", one.first.second);
    d.set("records", std::to_string(one.second));
  });
}

void seen_row(const archive::JackSeen& s, data& d) {
  d.set("jack", std::to_string(s.device));
  d.set("at", format_time(s.at_s));
  d.set("origin", texts::origin(s.origin));
  d.set("build", shown(s.build, longest_text));
  d.set("protocol", shown(s.protocol));
  d.set("settings", std::to_string(s.settings_revision));
  d.set("table", std::to_string(s.table_revision));
}

void instruction_row(const archive::SentInstruction& i, data& d) {
  wire::PullInstruction m;
  if (!m.ParseFromString(i.body)) m.Clear();
  d.set("jack", std::to_string(i.device));
  d.set("id", std::to_string(i.id));
  d.set("bed", std::to_string(i.bed));
  d.set("position", std::to_string(i.position));
  d.set("strand", shown(m.strand_name()));
  d.set("reel", std::to_string(m.reel()));
  d.set("forces",
        fmt::format("{:.1f}, {:.1f}, {:.1f} kN", m.seated_n() / 1e3, m.jack_n() / 1e3, m.limit_n() / 1e3));
  d.set("sent", format_time(i.sent_s));
  d.set("plan", i.plan_sha256_hex.empty() ? std::string{"not kept"} : i.plan_sha256_hex.substr(0, 16));
}

std::optional<gauge::HeldTable> held_of(const archive::LoadedTable& t) {
  try {
    return gauge::from_json(t.json, "table");
  } catch (const Problem&) {  // named among what does not hold
    return {};
  }
}

void table_row(const Data& from, const archive::LoadedTable& t, data& d) {
  const auto held = held_of(t);
  d.set("jack", std::to_string(t.device));
  d.set("revision", std::to_string(t.revision));
  d.set("loaded", format_time(t.loaded_s));
  d.set("digest", shown(t.sha256_hex, 64));
  d.set("signer", signer_of(from, t).value_or("not kept"));
  if (!held) return;
  d.set("calibrated", format_time(held->calibrated_s));
  d.set("due", format_time(held->due_s));
  d.set("origin", gauge::origin_text(held->origin));
  d.set("uncertainty", held->uncertainty_ppm == 0
                           ? std::string{"not stated"}
                           : fmt::format("{:.2f} % (k = 2)", held->uncertainty_ppm / 1e4));
  d.set("source", shown(gauge::source_of(t.json, "table").file, 80));
}

data columns(const Data& from) {
  data all{data::type::list};
  for (const auto& t : from.tables) {
    const auto held = held_of(t);
    if (!held) continue;
    const auto add = [&](const char* name, const std::vector<gauge::Point>& points) {
      std::string text;
      for (const auto& p : points)
        text += fmt::format("{}{:.2f} : {:.2f}", text.empty() ? "" : ",  ", p.pressure_mbar / 1e3,
                            p.force_n / 1e3);
      data d;
      d.set("jack", std::to_string(t.device));
      d.set("revision", std::to_string(t.revision));
      d.set("name", name);
      d.set("points", text.empty() ? std::string{"none"} : text);
      all.push_back(d);
    };
    add("A increasing", held->increasing[0]);
    add("B increasing", held->increasing[1]);
    add("A decreasing", held->decreasing[0]);
    add("B decreasing", held->decreasing[1]);
  }
  return all;
}

std::string act_text(const archive::HistoryEntry& h) {
  using archive::Act;
  switch (h.act) {
    case Act::loaded:
      return "loaded";
    case Act::undone:
      return "undone, back to revision " + shown(h.details);
    case Act::withdrawn:
      return "withdrawn: " + texts::reason(h.outcome);
    case Act::checked:
      return fmt::format("spot check: {}", h.outcome == 1 ? "PASS" : h.outcome == 2 ? "DRIFT" : "WITHDRAW");
  }
  return fmt::format("act {} of a newer program", static_cast<unsigned>(h.act));
}

void history_row(const archive::HistoryEntry& h, data& d) {
  d.set("at", format_time(h.at_s));
  d.set("jack", std::to_string(h.device));
  d.set("revision", std::to_string(h.revision));
  d.set("act", act_text(h));
  d.set("by", shown(h.by, longest_text));
  d.set("why", shown(h.why, longest_text));
}

void entry_row(const archive::Entry& e, data& d) {
  d.set("number", std::to_string(e.number));
  d.set("at", e.withheld ? "" : format_time(e.at_s));
  d.set("text", e.withheld ? "about something else: here by its digest alone" : report::entry_line(e));
}

void record_row(const archive::StoredRecord& r, data& d) {
  d.set("jack", std::to_string(r.device));
  d.set("sequence", std::to_string(r.sequence));
  d.set("boot", std::to_string(r.boot));
  d.set("tick", fmt::format("{}.{:03} s", r.tick_ms / 1000, r.tick_ms % 1000));
  d.set("utc", utc_text(clock_of(r.body)));
  d.set("text", report::record_line(r.body));
}

void document_row(const archive::Document& f, data& d) {
  d.set("name", shown(f.name, longest_text));
  d.set("kept", format_time(f.kept_s));
  d.set("digest", shown(f.sha256_hex, 64));
  d.set("text", printable(f.text));
}

}  // namespace

void add_rows(data& page, const Data& from) {
  page.set("seen", rows(from.seen, seen_row));
  page.set("clocks", clocks(from));
  page.set("instructions", rows(from.instructions, instruction_row));
  page.set("tables", rows(from.tables, [&](const auto& t, data& d) { table_row(from, t, d); }));
  page.set("columns", columns(from));
  page.set("history", rows(from.history, history_row));
  page.set("entries", rows(from.entries, entry_row));
  page.set("records", rows(from.records, record_row));
  page.set("documents", rows(from.documents, document_row));
}

}  // namespace strandproof::host::bundle
