// The report as one page that needs nothing else: no script, no request, no colour with a meaning.
#include <algorithm>
#include <cmath>

#include "sim/bench/format.hpp"
#include "sim/bench/names.hpp"
#include "sim/campaign/report.hpp"

namespace strandproof::sim {
namespace {

constexpr std::size_t bar_count = 81;
constexpr double width = 700.0;
constexpr double height = 150.0;

std::string escaped(std::string_view text) {
  std::string out;
  for (const char letter : text) {
    out += letter == '<'   ? "&lt;"
           : letter == '>' ? "&gt;"
           : letter == '&' ? "&amp;"
           : letter == '"' ? "&quot;"
                           : std::string(1, letter);
  }
  return out;
}

std::string count_text(std::uint64_t n) {
  return std::to_string(n);
}

// Half the width of a picture about zero: the next of 1, 2, 5 times a power of ten.
double round_up(double value) {
  const double power = std::pow(10.0, std::floor(std::log10(std::max(value, 1e-6))));
  for (const double m : {1.0, 2.0, 5.0}) {
    if (value <= m * power) {
      return m * power;
    }
  }
  return 10.0 * power;
}

std::string histogram(const Spread& s, const std::string& what) {
  const double reach = round_up(std::min(0.05, std::max(std::abs(s.least()), std::abs(s.most()))));
  const auto bars = s.bars(-reach, reach, bar_count);
  const auto most =
      static_cast<double>(std::max<std::uint64_t>(1, *std::max_element(bars.begin(), bars.end())));
  std::string svg = format("<figure><svg viewBox='0 0 %.0f %.0f' role='img' aria-label='%s'>", width,
                           height + 34.0, what.c_str());
  const double w = width / static_cast<double>(bar_count);
  for (std::size_t i = 0; i < bar_count; ++i) {
    const double h = static_cast<double>(bars[i]) / most * height;
    svg += format("<rect x='%.1f' y='%.1f' width='%.1f' height='%.1f'/>", static_cast<double>(i) * w,
                  height - h, w - 1.0, h);
  }
  svg += format("<path d='M0 %.0fH%.0fM%.1f 0V%.0f'/>", height, width, width / 2.0, height + 6.0);
  for (const double share : {-1.0, -0.5, 0.0, 0.5, 1.0}) {
    const double x = (share + 1.0) / 2.0 * width;
    const char* anchor = share < -0.9 ? "start" : share > 0.9 ? "end" : "middle";
    svg += format("<text x='%.1f' y='%.0f' text-anchor='%s'>%+.3g %%</text>", x, height + 20.0, anchor,
                  100.0 * reach * share);
  }
  return svg + "</svg><figcaption>" + what +
         format(
             ": median %+.4f %%, 99 %% within %.4f %%, from %+.4f to %+.4f %%, %llu "
             "pulls</figcaption></figure>\n",
             100.0 * s.quantile(0.5), 100.0 * s.size_quantile(0.99), 100.0 * s.least(), 100.0 * s.most(),
             static_cast<unsigned long long>(s.count()));
}

std::string row(const std::vector<std::string>& cells, const char* tag = "td") {
  std::string text = "<tr>";
  for (const std::string& cell : cells) {
    text += format("<%s>", tag) + cell + format("</%s>", tag);
  }
  return text + "</tr>\n";
}

std::vector<std::string> ends_cells(const Ends& ends) {
  std::vector<std::string> cells;
  for (const std::uint64_t n : ends) {
    cells.push_back(count_text(n));
  }
  return cells;
}

std::vector<std::string> with_ends_heads(std::vector<std::string> first) {
  for (std::size_t i = 0; i < end_count; ++i) {
    first.emplace_back(end_text(static_cast<End>(i)));
  }
  return first;
}

std::string ends_part(const Report& r) {
  std::string text = "<h2>How they ended</h2><table>";
  const double all = static_cast<double>(std::max<std::uint64_t>(1, r.pulls));
  for (std::size_t i = 0; i < end_count; ++i) {
    const double share = static_cast<double>(r.ends[i]) / all;
    text += row({std::string(end_text(static_cast<End>(i))), count_text(r.ends[i]),
                 format("%.2f %%", 100.0 * share),
                 format("<span class='bar' style='width:%.2fem'></span>", 20.0 * share)});
  }
  text += "</table>\n";
  if (r.ends[static_cast<std::size_t>(End::breach)] == 0) {
    text += format(
        "<p>No limit was breached in %llu pulls: with 95 %% confidence fewer than 1 in %.0f of pulls drawn "
        "like "
        "these. Of others it says nothing.</p>\n",
        static_cast<unsigned long long>(r.pulls), all / 3.0);
  }
  for (const auto& [name, count] : r.breaches) {
    text += "<p><b>Breached: " + escaped(name) + "</b>, " + count_text(count) + " pulls</p>\n";
  }
  return text;
}

std::string causes_part(const Report& r) {
  if (r.causes.empty()) {
    return "";
  }
  std::string text = "<h2>First cause</h2><table>";
  for (const auto& [cause, count] : r.causes) {
    const CauseText what = cause_text(static_cast<std::uint8_t>(cause));
    text += row({escaped(what.what), count_text(count), escaped(what.remedy)});
  }
  return text + "</table>\n";
}

std::string share_text(std::uint64_t n, std::uint64_t of) {
  return of == 0
             ? ""
             : count_text(n) + format(" (%.1f %%)", 100.0 * static_cast<double>(n) / static_cast<double>(of));
}

std::string faults_part(const Report& r) {
  if (r.faults.empty()) {
    return "";
  }
  std::string text = "<h2>Faults</h2><table>" +
                     row(with_ends_heads({"fault", "drawn", "began", "noticed", "bit unnoticed"}), "th");
  for (const auto& [name, f] : r.faults) {
    std::vector<std::string> cells{escaped(name), count_text(f.drawn), count_text(f.began),
                                   share_text(f.noticed, f.began), share_text(f.bit, f.began)};
    const auto ends = ends_cells(f.ends);
    cells.insert(cells.end(), ends.begin(), ends.end());
    text += row(cells);
  }
  return text +
         "</table><p>A fault that did not begin before its pull was over proves nothing; the ends are of "
         "those that began. Noticed: a row of the interlock table acted from then on. Bit unnoticed: none "
         "did, "
         "and a limit was breached.</p>\n";
}

std::string cells_part(const Report& r) {
  if (r.cells.empty()) {
    return "";
  }
  std::vector<std::string> heads = r.swept;
  heads.insert(heads.end(), {"within limits", "breached", "median", "99 % within", ""});
  std::string text = "<h2>Sweep</h2><table>" + row(heads, "th");
  for (const Cell& cell : r.cells) {
    std::vector<std::string> cells;
    for (const double value : cell.at) {
      cells.push_back(format("%.6g", value));
    }
    std::uint64_t all = 0;
    for (const std::uint64_t n : cell.ends) {
      all += n;
    }
    const double share = all == 0 ? 0.0
                                  : static_cast<double>(cell.ends[static_cast<std::size_t>(End::within)]) /
                                        static_cast<double>(all);
    cells.insert(cells.end(), {format("%.2f %% of %llu", 100.0 * share, static_cast<unsigned long long>(all)),
                               count_text(cell.ends[static_cast<std::size_t>(End::breach)]),
                               format("%+.4f %%", 100.0 * cell.stop_error.quantile(0.5)),
                               format("%.4f %%", 100.0 * cell.stop_error.size_quantile(0.99)),
                               format("<span class='bar' style='width:%.2fem'></span>", 10.0 * share)});
    text += row(cells);
  }
  return text +
         "</table><p>Values of swept keys in SI units; median and 99 % of the true force at the end of "
         "settle "
         "less the jack force.</p>\n";
}

std::string worst_part(const Report& r, const std::string& replay) {
  std::string text =
      "<h2>The ten worst</h2><table>" +
      row({"pull", "end", "verdict", "first cause", "fault", "off the jack force", "play it again"}, "th");
  for (const Outcome& o : r.worst) {
    const std::string cause =
        o.cause == 0 ? "" : std::string(cause_text(static_cast<std::uint8_t>(o.cause)).what);
    const std::string end = std::string(end_text(end_of(o))) + (o.breach.empty() ? "" : ": " + o.breach) +
                            (o.failure.empty() ? "" : ": " + o.failure);
    text += row({std::to_string(o.pull), escaped(end), escaped(verdict_text(o.verdict)), escaped(cause),
                 escaped(o.fault), o.settled ? format("%+.4f %%", 100.0 * o.stop_error) : "did not settle",
                 "<code>" + escaped(replay + " " + std::to_string(o.pull)) + "</code>"});
  }
  return text + "</table>\n";
}

constexpr const char* style =
    "body{font:15px/1.45 serif;max-width:60em;margin:2em auto;padding:0 1em;color:#111;background:#fff}"
    "h1{font-size:1.5em}h2{font-size:1.15em;margin-top:2em;border-bottom:1px solid #999}"
    "table{border-collapse:collapse}td,th{text-align:left;padding:.15em .8em .15em 0;vertical-align:top;"
    "border-bottom:1px solid #ddd}th{font-weight:600}.bar{display:inline-block;height:.8em;background:#555}"
    ".mark{letter-spacing:.3em;font-weight:700;border:2px solid #111;padding:.2em .6em;display:inline-block}"
    "svg{width:100%;max-width:44em}rect{fill:#666}path{stroke:#111;fill:none}text{font-size:12px}"
    "figure{margin:1em 0}code{font-size:.85em}";

}  // namespace

std::string report_html(const Report& r, const std::string& replay) {
  std::string html = "<!doctype html><html lang='en'><meta charset='utf-8'><title>Campaign " +
                     escaped(r.name) + "</title><style>" + style +
                     "</style>\n<p class='mark'>SIMULATED</p><h1>Campaign: " + escaped(r.name) + "</h1>\n";
  html += format(
      "<p>%llu pulls, seed %llu, %.1f h of virtual time. Plant values are assumed, not measured on a jack; "
      "a result holds for pulls drawn as the campaign's file says and is no statement about a real "
      "one.</p>\n",
      static_cast<unsigned long long>(r.pulls), static_cast<unsigned long long>(r.seed),
      r.virtual_s / 3600.0);
  html += "<p><code>" + escaped(r.title) + "</code></p>\n";
  html += ends_part(r);
  if (r.stop_error.count() > 0) {
    html += "<h2>How near the force comes</h2>\n" +
            histogram(r.stop_error, "True force at the end of settle less the jack force") +
            histogram(r.accuracy, "Control accuracy: true force less that of the noise-free table") +
            histogram(r.locked_error, "True locked force less the recorded one");
  }
  return html + cells_part(r) + faults_part(r) + causes_part(r) + worst_part(r, replay) + "</html>\n";
}

}  // namespace strandproof::sim
