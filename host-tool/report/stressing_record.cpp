#include "host-tool/report/stressing_record.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <kainjow/mustache.hpp>
#include <map>
#include <set>
#include <utility>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/files.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/report/marks.hpp"
#include "host-tool/report/page_style.hpp"
#include "host-tool/report/page_template.hpp"
#include "host-tool/report/pull_curve.hpp"
#include "host-tool/report/pull_sheet.hpp"
#include "host-tool/report/trip_snapshot.hpp"

namespace strandproof::host::report {
namespace {

using kainjow::mustache::data;

enum class Event : std::uint32_t {
#define EVENT(number, id, text, detail) id = number,
#include "proto/catalogue.def"
};
enum class Load : std::uint32_t {
#define LOAD(number, id, text) id = number,
#include "proto/catalogue.def"
};

constexpr std::uint32_t within_limits = 1;    // VERDICT of the catalogue
constexpr std::uint32_t origin_hardware = 3;  // Identity.origin

// What the archive holds of the jacks that pulled this bed.
struct Material {
  std::vector<PullOfBed> pulls;
  std::vector<proto::PullCurve> curves;  // of each of them
  std::vector<EventOfJack> events;
  Load load = Load::not_known;
  std::string digest_hex;  // SHA-256 over the bodies of the bed's span of every jack (archive::Span)
  std::uint64_t last_sequence = 0;
};

// The worse of what the jack last said and of what the pulls left: a strand that was seated stays loaded
// until the bed is detensioned, whatever a jack that has been moved on says of itself.
Load bed_load(const std::set<std::uint32_t>& on_chuck, Load last) {
  return last == Load::no_load && !on_chuck.empty() ? Load::on_chuck : last;
}

// What was said later than the bed's own records and bears on its load: that it was detensioned, the newest
// time, and the jack's last word.
std::vector<archive::StoredRecord> with_later(const archive::Archive& kept, const archive::Span& own) {
  auto all = kept.find({.device = own.device, .first = own.first, .last = own.last});
  for (const auto& r : kept.find({.device = own.device,
                       .event = static_cast<std::uint32_t>(Event::detensioned),
                       .first = own.last + 1,
                       .newest_first = true,
                       .limit = 1}))
    all.push_back(r);
  for (const auto& r :
       kept.find({.device = own.device, .first = own.last + 1, .newest_first = true, .limit = 1})) {
    if (r.sequence > all.back().sequence) all.push_back(r);
  }
  return all;
}

class Collector {
 public:
  explicit Collector(std::uint32_t bed) : bed_{bed} {}

  void next_jack() { parts_ = {}; }
  // of_bed: not one of those that were said later.
  void take(const archive::StoredRecord& stored, bool of_bed) {
    if (of_bed) {
      bodies_ += stored.body;
      m_.last_sequence = std::max(m_.last_sequence, stored.sequence);
    }
    wire::Record r;
    if (!r.ParseFromString(stored.body)) r.Clear();
    if (r.has_pull()) take_pull(stored, r.pull());
    if (r.has_event()) take_event(stored, r.event(), of_bed);
    parts_.take(stored, r);
  }
  Material done() {
    m_.load = bed_load(on_chuck_, last_);
    m_.digest_hex = sha256_hex(bodies_);
    return std::move(m_);
  }

 private:
  void take_pull(const archive::StoredRecord& stored, const wire::PullRecord& pull) {
    last_ = static_cast<Load>(pull.load_state());
    if (pull.bed() != bed_) return;
    m_.pulls.push_back({stored, pull});
    m_.curves.push_back(parts_.curve_of(stored, pull));
    if (last_ == Load::on_chuck) on_chuck_.insert(pull.position());
  }
  void take_event(const archive::StoredRecord& stored, const wire::EventRecord& event, bool of_bed) {
    last_ = static_cast<Load>(event.load_state());
    if (event.code() == static_cast<std::uint32_t>(Event::detensioned)) on_chuck_.clear();
    if (of_bed) m_.events.push_back({stored, event});
  }

  std::uint32_t bed_;
  Material m_;
  std::set<std::uint32_t> on_chuck_;
  Load last_ = Load::not_known;
  std::string bodies_;
  CurveParts parts_;
};

Material collect(const archive::Archive& kept, std::uint32_t bed) {
  Collector all{bed};
  for (const auto& own : kept.spans(bed)) {
    all.next_jack();
    for (const auto& stored : with_later(kept, own)) all.take(stored, stored.sequence <= own.last);
  }
  return all.done();
}

// Whether an event is part of a pull: it names the pull's instruction, or it names none and lies between
// those that do and the pull's record (once the pull is closed the jack knows no instruction any more).
bool belongs(const EventOfJack& e, const PullOfBed& pull, const Material& m) {
  const std::uint32_t instruction = pull.record.instruction();
  if (e.stored.device != pull.stored.device || instruction == 0) return false;
  if (e.record.instruction() == instruction) return true;
  if (e.record.instruction() != 0 || e.stored.sequence > pull.stored.sequence) return false;
  return std::any_of(m.events.begin(), m.events.end(), [&](const EventOfJack& earlier) {
    return earlier.stored.device == e.stored.device && earlier.record.instruction() == instruction &&
           earlier.stored.sequence < e.stored.sequence;
  });
}

std::vector<EventOfJack> events_of(const Material& m, const PullOfBed& pull) {
  std::vector<EventOfJack> found;
  for (const auto& e : m.events) {
    if (belongs(e, pull, m)) found.push_back(e);
  }
  return found;
}

// What the trips among them left behind. A trip has its snapshot under the tick of its event.
std::vector<TripOfPull> trips_of(const archive::Archive& kept, const std::vector<EventOfJack>& events) {
  std::vector<TripOfPull> trips;
  for (const auto& e : events) {
    const auto code = static_cast<Event>(e.record.code());
    if (code != Event::trip && code != Event::emergency_stop && code != Event::ordinary_stop) continue;
    if (const auto shot = snapshot_of(kept, e.stored)) trips.push_back({e, *shot});
  }
  return trips;
}

// Those that belong to no pull on this page; changes of state are left to `log show`.
data other_events(const Material& m) {
  data rows{data::type::list};
  for (const auto& e : m.events) {
    const bool with_pull =
        std::any_of(m.pulls.begin(), m.pulls.end(), [&](const auto& p) { return belongs(e, p, m); });
    if (!with_pull && e.record.code() != static_cast<std::uint32_t>(Event::state))
      rows.push_back(event_row(e));
  }
  return rows;
}

std::string jacks_text(const Material& m) {
  std::set<std::uint32_t> serials;
  for (const auto& p : m.pulls) serials.insert(p.stored.device);
  std::string text;
  for (const auto serial : serials) text += (text.empty() ? "" : ", ") + std::to_string(serial);
  return text;
}

std::string origin_of(const Material& m) {
  for (const auto& p : m.pulls) {
    if (p.record.origin() != origin_hardware) return texts::origin(p.record.origin());
  }
  return {};
}

// Revisions of gauge tables with what the archive knows of each.
data tables(const archive::Archive& kept, const Material& m) {
  std::map<std::pair<std::uint32_t, std::uint32_t>, std::uint32_t> seen;
  for (const auto& p : m.pulls)
    seen[{p.stored.device, p.record.table_revision()}] = p.record.uncertainty_ppm();
  data rows{data::type::list};
  for (const auto& [key, ppm] : seen) {
    const auto known = kept.table(key.first, key.second);
    data d;
    d.set("jack", std::to_string(key.first));
    d.set("revision", std::to_string(key.second));
    d.set("uncertainty",
          ppm == 0 ? std::string{"not stated"} : fmt::format("{:.2f} % of reading (k = 2)", ppm / 1e4));
    d.set("digest", known ? known->sha256_hex.substr(0, 16) : "not loaded by this archive");
    rows.push_back(d);
  }
  return rows;
}

}  // namespace

std::vector<PullOfBed> pulls_of_bed(const archive::Archive& kept, std::uint32_t bed) {
  std::vector<PullOfBed> found;
  for (const auto& stored : kept.find({.bed = bed})) {
    wire::Record r;
    if (r.ParseFromString(stored.body) && r.has_pull()) found.push_back({stored, r.pull()});
  }
  return found;
}

bool is_good(const std::vector<PullOfBed>& pulls, std::uint32_t position) {
  bool good = false;
  for (const auto& p : pulls) {
    if (p.record.position() == position) good = p.record.verdict() == within_limits;
  }
  return good;
}

namespace {

// The fields of a bed's sheet; counts what is on it.
data sheet_fields(const archive::Archive& kept, std::uint32_t bed, const std::vector<std::string>& heads,
                  Page& page) {
  const Material m = collect(kept, bed);
  if (m.pulls.empty())
    throw refused(fmt::format("no pull of bed {} in the archive; fetch the log first", bed));
  const Doubts doubts = doubts_of(kept, m.pulls);
  std::map<std::uint32_t, bool> positions;
  data list{data::type::list};
  for (std::size_t i = 0; i < m.pulls.size(); ++i) {
    const auto& p = m.pulls[i];
    positions[p.record.position()] = p.record.verdict() == within_limits;
    const auto events = events_of(m, p);
    data sheet = pull_sheet(p, m.curves[i], events, trips_of(kept, events));
    if (const auto doubt = doubt_of(doubts, p); !doubt.empty()) sheet.set("doubt", doubt);
    list.push_back(sheet);
  }
  page.pulls = static_cast<int>(m.pulls.size());
  page.positions = static_cast<int>(positions.size());
  for (const auto& [position, good] : positions) page.good += good ? 1 : 0;
  const std::string origin = origin_of(m);
  page.simulated = !origin.empty();

  data d;
  d.set("bed", std::to_string(bed));
  d.set("bed_name", m.pulls.back().record.bed_name());
  d.set("jacks", jacks_text(m));
  d.set("simulated", data{page.simulated});
  d.set("emulated", data{origin == texts::origin(2)});
  d.set("loaded", data{m.load != Load::no_load});
  d.set("load_state", texts::load(static_cast<std::uint32_t>(m.load)));
  d.set("summary", fmt::format("{} of {}; the last pull of {} is within limits.", counted(page.pulls, "pull"),
                               counted(page.positions, "position"), page.good));
  d.set("last_sequence", std::to_string(m.last_sequence));
  d.set("digest", m.digest_hex);
  data head_lines{data::type::list};
  for (const std::string& line : heads) {
    data head;
    head.set("line", line);
    head_lines << head;
  }
  d.set("heads", head_lines);
  d.set("no_heads", data{heads.empty()});
  d.set("draw_in_uncertainty", fmt::format("{:.1f} mm", draw_in_uncertainty_um / 1e3));
  d.set("re_bite_uncertainty", fmt::format("{:.1f} mm", re_bite_uncertainty_um / 1e3));
  d.set("tables", tables(kept, m));
  d.set("pulls", list);
  d.set("others", other_events(m));
  add_marks(d, kept, bed, m.pulls, doubts);
  return d;
}

Page rendered(const std::string& text, const data& d, Page page) {
  kainjow::mustache::mustache form{text};
  page.html = form.render(d);
  return page;
}

}  // namespace

Page stressing_sheet(const archive::Archive& kept, std::uint32_t bed, const std::vector<std::string>& heads) {
  Page page;
  const data d = sheet_fields(kept, bed, heads, page);
  return rendered(sheet_template, d, page);
}

Page stressing_record(const archive::Archive& kept, std::uint32_t bed, std::int64_t printed_s,
                      const std::vector<std::string>& heads) {
  Page page;
  data d = sheet_fields(kept, bed, heads, page);
  d.set("style", std::string{page_style} + sheet_style);
  d.set("printed", format_time(printed_s));
  return rendered(std::string{page_begin} + sheet_template + page_end, d, page);
}

}  // namespace strandproof::host::report
