// The sheet on the screen: the same texts and shapes as on paper, in a page that asks for nothing else.
#include <kainjow/mustache.hpp>

#include "host-tool/report/calibration.hpp"
#include "host-tool/report/calibration_template.hpp"
#include "host-tool/report/page_style.hpp"

namespace strandproof::host::report {
namespace {

using kainjow::mustache::data;

data facts(const std::vector<Fact>& all) {
  data list{data::type::list};
  for (const auto& fact : all) {
    data d;
    d.set("label", fact.label);
    d.set("value", fact.value);
    list.push_back(d);
  }
  return list;
}

data cells(const std::vector<std::string>& texts, std::size_t left) {
  data list{data::type::list};
  for (std::size_t i = 0; i < texts.size(); ++i) {
    data d;
    d.set("kind", i < left ? "" : "num");
    d.set("text", texts[i]);
    list.push_back(d);
  }
  return list;
}

data groups(const Grid& g) {
  data list{data::type::list};
  for (const auto& group : g.groups) {
    data d;
    d.set("kind", group.text.empty() ? "" : "group");
    d.set("text", group.text);
    d.set("columns", std::to_string(group.columns));
    list.push_back(d);
  }
  return list;
}

data grid(const Grid& g) {
  data d;
  d.set("title", g.title);
  d.set("grouped", data{!g.groups.empty()});
  d.set("groups", groups(g));
  d.set("headings", cells(g.headings, g.left));
  data rows{data::type::list};
  for (const auto& row : g.rows) {
    data r;
    r.set("cells", cells(row, g.left));
    rows.push_back(r);
  }
  d.set("rows", rows);
  d.set("note", g.note);
  return d;
}

data pictures(const std::vector<Picture>& all) {
  data list{data::type::list};
  for (const auto& p : all) {
    data d;
    d.set("picture", picture_svg(p));
    list.push_back(d);
  }
  return list;
}

data remarks(const Remarks& r) {
  data d;
  d.set("title", r.title);
  d.set("items", cells(r.items, r.items.size()));
  return d;
}

}  // namespace

std::string calibration_html(const CalibrationSheet& s) {
  data d;
  d.set("style", std::string{page_style} + calibration_style);
  d.set("title", s.title);
  d.set("subject", s.subject);
  d.set("issuer", s.issuer);
  d.set("simulated", data{!s.origin.empty()});
  d.set("origin", s.origin);
  d.set("origin_line", s.origin_line);
  d.set("results", facts(s.results));
  d.set("unit", grid(s.unit));
  d.set("errors", grid(s.errors));
  d.set("runs", grid(s.runs));
  d.set("residuals_title", s.residuals_title);
  d.set("residuals", pictures(s.residuals));
  d.set("residuals_note", s.residuals_note);
  d.set("fits", grid(s.fits));
  d.set("points", grid(s.points));
  d.set("budget", grid(s.budget));
  data both{data::type::list};
  both.push_back(remarks(s.statements));
  both.push_back(remarks(s.cautions));
  d.set("remarks", both);
  d.set("signatures", facts(s.signatures));
  d.set("digests", facts(s.digests));
  kainjow::mustache::mustache page{calibration_template()};
  return page.render(d);
}

}  // namespace strandproof::host::report
