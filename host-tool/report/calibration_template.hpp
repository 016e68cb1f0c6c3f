// The calibration report for the screen as a Mustache template; the style that it shares with the stressing
// record is in page_style.hpp. Two braces escape; only the style and the pictures, which this program makes,
// go in as they are. No colour is used: nothing here is a danger or abnormal in the sense of IEC 60073.
#pragma once

#include <string>

namespace strandproof::host::report {

inline constexpr const char* calibration_style = R"page(
body{max-width:1120px}
header{display:grid;grid-template-columns:1fr auto;gap:4px 24px;align-items:start}
.issuer{text-align:right;white-space:pre-line;max-width:44ch}
.results{display:grid;grid-template-columns:repeat(auto-fit,minmax(118px,1fr));border:solid var(--ink);border-width:2px 0;padding:7px 0;margin:16px 0;gap:8px 14px}
.results div{display:flex;flex-direction:column-reverse}
.results dt{font-size:11.5px;color:var(--soft)}.results dd{margin:0;font-size:18px;font-weight:bold}
.pair{display:grid;grid-template-columns:minmax(0,1.27fr) minmax(0,1fr);gap:0 26px}
.half{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1fr);gap:0 20px}
section{margin-top:18px}
h2{border-top:2px solid var(--ink);padding-top:4px;font-size:15px;margin-bottom:4px}
.wide{overflow-x:auto}
td,th{padding:2px 0 2px 12px;white-space:pre-line}
td:first-child,th:first-child{padding-left:0}
th{vertical-align:bottom}.group{text-align:center;font-weight:bold;border-bottom:1px solid var(--soft)}
.note{font-size:12px;color:var(--soft)}
svg{border:0;background:none}svg text{font-size:2.4px;fill:#535b66}
ul{margin:4px 0;padding-left:18px}
.sign{margin-top:24px}.sign div{border:0;padding:0}.sign b{display:block;color:var(--ink);height:40px}.sign span{display:block;border-top:1px solid var(--ink);padding-top:3px}
.digests{border-top:1px solid var(--soft);margin-top:22px;padding-top:4px;font-size:12px}
@media (max-width:760px){.pair,.half,header{grid-template-columns:minmax(0,1fr)}.issuer{text-align:left}}
@page{margin:9mm 13mm}
@media print{body{font:6.9px/1.2 "DejaVu Sans Condensed","DejaVu Sans",sans-serif}h1{font-size:17px}h2{font-size:8.6px;border-width:1px;padding-top:1px;margin:0}
header{grid-template-columns:1fr auto!important}.issuer{text-align:right!important}section{margin-top:5px}
.results{grid-template-columns:repeat(6,1fr)!important;margin:5px 0;padding:2px 0}.results dd{font-size:10.5px}.results dt,.note,.digests{font-size:6px}
.origin{margin:4px 0;padding:2px;border-width:2px}p,ul{margin:1px 0}td,th{padding:.5px 0 .5px 6px}.digest{font-size:5.6px}.digests{margin-top:5px}
.pair{grid-template-columns:minmax(0,1.27fr) minmax(0,1fr)!important}.half{grid-template-columns:1fr 1fr!important}
.half svg{width:84%;margin:auto}.sign{margin-top:6px;grid-template-columns:repeat(3,1fr)!important}.wide{overflow:visible}}
)page";

// A Grid under this name of the sheet.
inline std::string grid_template(const std::string& name) {
  return "{{#" + name + R"page(}}<section><h2>{{title}}</h2><div class="wide"><table><thead>
{{#grouped}}<tr>{{#groups}}<th class="{{kind}}" colspan="{{columns}}">{{text}}</th>{{/groups}}</tr>{{/grouped}}
<tr>{{#headings}}<th class="{{kind}}">{{text}}</th>{{/headings}}</tr></thead><tbody>
{{#rows}}<tr>{{#cells}}<td class="{{kind}}">{{text}}</td>{{/cells}}</tr>
{{/rows}}</tbody></table></div><p class="note">{{note}}</p></section>{{/)page" +
         name + "}}\n";
}

inline std::string calibration_template() {
  return R"page(<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>{{title}}: {{subject}}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>{{{style}}}</style></head><body>
{{#simulated}}<div class="across" aria-hidden="true"><span>{{origin}}</span></div>{{/simulated}}
<header><div><h1>{{title}}</h1><p>{{subject}}</p></div><p class="issuer">{{issuer}}</p></header>
{{#simulated}}<div class="origin">{{origin_line}}</div>{{/simulated}}
<dl class="results">{{#results}}<div><dd>{{value}}</dd><dt>{{label}}</dt></div>{{/results}}</dl>
<div class="pair">)page" +
         grid_template("unit") + grid_template("errors") + "</div>\n" + grid_template("runs") +
         R"page(<section><h2>{{residuals_title}}</h2><div class="half">{{#residuals}}{{{picture}}}{{/residuals}}</div><p class="note">{{residuals_note}}</p></section>
)page" + grid_template("fits") +
         "<div class=\"pair\">" + grid_template("points") + grid_template("budget") + R"page(</div>
<div class="pair">{{#remarks}}<section><h2>{{title}}</h2><ul>{{#items}}<li>{{text}}</li>{{/items}}</ul></section>{{/remarks}}</div>
<div class="sign">{{#signatures}}<div><b>{{label}}</b><span>{{value}}</span></div>{{/signatures}}</div>
<div class="digests">{{#digests}}<div>{{label}} <span class="digest">{{value}}</span></div>{{/digests}}</div>
</body></html>
)page";
}

}  // namespace strandproof::host::report
