#include "host-tool/report/stressing_record.hpp"

#include <fmt/core.h>

#include <cmath>
#include <ctime>
#include <kainjow/mustache.hpp>
#include <map>

#include "host-tool/base/catalogue.hpp"
#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"
#include "host-tool/report/page_template.hpp"

namespace strandproof::host::report {
namespace {

using kainjow::mustache::data;

constexpr std::uint32_t within_limits = 1;  // VERDICT of the catalogue

// A force with its expanded uncertainty, and no digit beyond it.
std::string force(std::int64_t n, std::uint32_t ppm) {
  const double kn = static_cast<double>(n) / 1e3;
  if (ppm == 0) return fmt::format("{:.1f} kN (uncertainty not stated)", kn);
  const double u = std::abs(kn) * ppm * 1e-6;
  return u >= 0.1 ? fmt::format("{:.1f} kN +- {:.1f} kN", kn, u) : fmt::format("{:.2f} kN +- {:.2f} kN", kn, u);
}

std::string kn(std::uint32_t n) { return fmt::format("{:.1f} kN", n / 1e3); }
std::string mm(std::int64_t um) { return fmt::format("{:.1f} mm", static_cast<double>(um) / 1e3); }

data pull_data(const PullOfBed& p) {
  const auto& r = p.record;
  data d;
  d.set("position", std::to_string(r.position()));
  d.set("sequence", std::to_string(p.stored.sequence));
  d.set("strand", r.strand_name());
  d.set("reel", std::to_string(r.reel()));
  d.set("verdict", texts::verdict(r.verdict()));
  d.set("good", data{r.verdict() == within_limits});
  if (r.cause() != 0) {
    d.set("cause", texts::cause(r.cause()));
    d.set("remedy", texts::remedy(r.cause()));
  }
  const bool settled = r.settle_n() != 0;
  const bool seated = r.locked_n() != 0;
  d.set("time", r.utc_s() == 0 ? "clock not set" : format_time(static_cast<std::int64_t>(r.utc_s())));
  d.set("initial", r.datum_n() == 0 ? "not reached" : force(r.datum_n(), r.uncertainty_ppm()));
  d.set("settle", settled ? force(r.settle_n(), r.uncertainty_ppm()) : "not reached");
  d.set("jack_force", kn(r.jack_n()));
  d.set("draw_in", seated ? mm(r.draw_in_um()) : "not seated");
  d.set("locked", seated ? force(r.locked_n(), r.uncertainty_ppm()) : "not seated");
  d.set("seated", fmt::format("{} +- {:.1f} %", kn(r.seated_n()), r.force_window_ppm() / 1e4));
  d.set("elongation", settled ? mm(r.elongation_um()) : "not reached");
  d.set("elongation_window", fmt::format("{} to {}", mm(r.elongation_min_um()), mm(r.elongation_max_um())));
  d.set("peak", kn(static_cast<std::uint32_t>(std::max(0, r.peak_n()))));
  d.set("limit", kn(r.limit_n()));
  d.set("stiffness", r.stiffness_seen_n_per_m() == 0 ? "not reached"
                                                     : fmt::format("{:.1f} N/mm", r.stiffness_seen_n_per_m() / 1e3));
  d.set("top_ups", std::to_string(r.top_ups()));
  d.set("duration", fmt::format("{:.0f} s", r.duration_ms() / 1e3));
  d.set("table", std::to_string(r.table_revision()));
  d.set("settings", std::to_string(r.settings_revision()));
  d.set("load", texts::load(r.load_state()));
  d.set("picture", curve_svg(r));
  return d;
}

// Events of the pulls' jacks from the first pull's instruction on; state changes are left to `log show`.
data events_data(const archive::Archive& kept, std::uint32_t device, std::string& load_state) {
  constexpr std::uint32_t state_changed = 2;
  data list{data::type::list};
  for (const auto& stored : kept.records(device)) {
    wire::Record r;
    if (!r.ParseFromString(stored.body) || !r.has_event()) continue;
    const auto& e = r.event();
    load_state = texts::load(e.load_state());
    if (e.code() == state_changed) continue;
    data d;
    d.set("sequence", std::to_string(stored.sequence));
    d.set("boot", std::to_string(stored.boot));
    d.set("at", fmt::format("{:.1f} s", static_cast<double>(stored.tick_ms) / 1e3));
    std::string text = texts::event(e.code());
    if (e.cause() != 0) text += ": " + texts::cause(e.cause());
    if (e.code() == 6) text += ": " + texts::refusal(e.detail());
    d.set("text", fmt::format("{}, {}", text, texts::load(e.load_state())));
    list.push_back(d);
  }
  return list;
}

}  // namespace

std::vector<PullOfBed> pulls_of_bed(const archive::Archive& kept, std::uint32_t bed) {
  std::vector<PullOfBed> found;
  for (const auto& stored : kept.records()) {
    wire::Record r;
    if (r.ParseFromString(stored.body) && r.has_pull() && r.pull().bed() == bed) found.push_back({stored, r.pull()});
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

Page stressing_record(const archive::Archive& kept, std::uint32_t bed) {
  const auto pulls = pulls_of_bed(kept, bed);
  if (pulls.empty()) throw refused(fmt::format("no pull of bed {} in the archive; fetch the log first", bed));
  Page page;
  std::map<std::uint32_t, bool> positions;
  data list{data::type::list};
  for (const auto& p : pulls) {
    positions[p.record.position()] = p.record.verdict() == within_limits;
    page.simulated = page.simulated || p.record.origin() != 3;
    list.push_back(pull_data(p));
  }
  page.pulls = static_cast<int>(pulls.size());
  page.positions = static_cast<int>(positions.size());
  for (const auto& [position, good] : positions) page.good += good ? 1 : 0;

  const auto& last = pulls.back().record;
  std::string load_state = texts::load(last.load_state());
  data d;
  d.set("events", events_data(kept, last.jack_serial(), load_state));
  d.set("bed", std::to_string(bed));
  d.set("bed_name", last.bed_name());
  d.set("jack", std::to_string(last.jack_serial()));
  d.set("printed", format_time(std::time(nullptr)));
  d.set("clock_quality", texts::clock_quality(last.clock_quality()));
  d.set("simulated", data{page.simulated});
  d.set("origin", page.simulated ? texts::origin(last.origin()) : std::string{});
  d.set("load_state", load_state);
  d.set("summary", fmt::format("{} pulls of {} positions; the last pull of {} is within limits.", page.pulls, page.positions,
                               page.good));
  d.set("uncertainty", last.uncertainty_ppm() == 0
                           ? std::string{"its uncertainty is not stated"}
                           : fmt::format("expanded uncertainty (k = 2) {:.2f} % of reading", last.uncertainty_ppm() / 1e4));
  d.set("pulls", list);
  kainjow::mustache::mustache page_text{page_template};
  page.html = page_text.render(d);
  return page;
}

}  // namespace strandproof::host::report
