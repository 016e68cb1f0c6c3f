// The page of the stressing record as a Mustache template. Two braces escape; only the picture, which is
// made by this program, goes in unescaped.
#pragma once

namespace strandproof::host::report {

inline constexpr const char* page_template = R"page(<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Stressing record - {{bed_name}}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>
:root{--ink:#1c1f24;--soft:#5b6470;--rule:#c9ced6;--paper:#fdfcf9;--wash:#f0eee8}
*{box-sizing:border-box}
body{margin:0 auto;padding:28px 30px 60px;max-width:960px;background:var(--paper);color:var(--ink);font:14px/1.45 "DejaVu Sans",Verdana,sans-serif;position:relative}
h1{font-size:23px;margin:0 0 2px;letter-spacing:.2px}h2{font-size:16px;margin:26px 0 8px;padding-top:12px;border-top:3px double var(--rule)}
p{margin:6px 0}.soft{color:var(--soft)}
.loadstate{border:2px solid var(--ink);padding:8px 14px;margin:16px 0;display:flex;gap:16px;align-items:baseline}
.loadstate b{font-size:17px}
.origin{border:3px solid var(--ink);padding:7px 14px;margin:14px 0;font-weight:bold;letter-spacing:3px;text-align:center}
.across{position:fixed;inset:0;display:flex;align-items:center;justify-content:center;pointer-events:none;z-index:3}
.across span{font-size:15vw;font-weight:bold;color:rgba(40,44,52,.10);transform:rotate(-31deg);letter-spacing:.06em}
table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:4px 9px 4px 0;border-bottom:1px solid var(--rule);vertical-align:top}
th{font-weight:normal;color:var(--soft)}td.n{text-align:right;font-variant-numeric:tabular-nums}
.pull{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1.15fr);gap:20px;break-inside:avoid}
.mark{display:inline-block;border:2px solid var(--ink);padding:2px 10px;font-weight:bold}
.mark.bad{background:var(--ink);color:var(--paper)}
svg{width:100%;background:#fff;border:1px solid var(--rule)}svg text{font-size:10.5px;fill:var(--soft)}
svg .g{stroke:#e4e6ea}svg .w{fill:#dfe3ea;opacity:.65}svg .l{stroke:var(--ink);stroke-dasharray:7 3}svg .t{stroke:var(--soft);stroke-dasharray:2 3}
svg .c{fill:none;stroke:var(--ink);stroke-width:1.8}svg circle{fill:var(--ink)}
.caution{background:var(--wash);border-left:6px solid var(--ink);padding:10px 16px;margin:18px 0}
.sign{display:grid;grid-template-columns:repeat(3,1fr);gap:26px;margin-top:34px}.sign div{border-top:1px solid var(--ink);padding-top:5px;color:var(--soft)}
@media (max-width:700px){.pull{grid-template-columns:1fr}}
@page{margin:14mm}@media print{body{background:#fff;max-width:none;padding:0}}
</style></head><body>
{{#simulated}}<div class="across" aria-hidden="true"><span>SIMULATED</span></div>{{/simulated}}
<h1>Stressing record: {{bed_name}} (bed {{bed}})</h1>
<p class="soft">jack {{jack}}, printed {{printed}}; times are those of the jack's clock, {{clock_quality}}</p>
{{#simulated}}<div class="origin">{{origin}} - NOT A RECORD OF STEEL</div>{{/simulated}}
<div class="loadstate"><span>load state at the last record</span><b>{{load_state}}</b></div>
<p>{{summary}}</p>
<table><tr><th>position</th><th>strand</th><th>reel</th><th>verdict</th><th>locked force, calculated</th><th>elongation</th></tr>
{{#pulls}}<tr><td>{{position}}</td><td>{{strand}}</td><td>{{reel}}</td><td>{{verdict}}</td><td>{{locked}}</td><td>{{elongation}}</td></tr>
{{/pulls}}</table>
{{#pulls}}
<section><h2>Position {{position}}, record {{sequence}}</h2>
<div class="pull"><div>
<p><span class="mark{{^good}} bad{{/good}}">{{#good}}&#10003; {{/good}}{{^good}}&#10007; {{/good}}{{verdict}}</span></p>
{{#cause}}<p><b>{{cause}}</b>. {{remedy}}</p>{{/cause}}
<table>
<tr><th>time</th><td>{{time}}</td></tr>
<tr><th>initial force, at the datum</th><td>{{initial}}</td></tr>
<tr><th>force at end of settle</th><td>{{settle}}</td></tr>
<tr><th>jack force planned</th><td>{{jack_force}}</td></tr>
<tr><th>draw-in</th><td>{{draw_in}}</td></tr>
<tr><th>locked force, calculated</th><td>{{locked}}</td></tr>
<tr><th>seated force, window</th><td>{{seated}}</td></tr>
<tr><th>elongation, window</th><td>{{elongation}} in {{elongation_window}}</td></tr>
<tr><th>highest force, limit</th><td>{{peak}}, limit {{limit}}</td></tr>
<tr><th>stiffness seen</th><td>{{stiffness}}</td></tr>
<tr><th>top-ups, duration</th><td>{{top_ups}}, {{duration}}</td></tr>
<tr><th>gauge table, settings</th><td>revision {{table}}, revision {{settings}}</td></tr>
<tr><th>load state after</th><td>{{load}}</td></tr>
</table></div>
<div>{{{picture}}}<p class="soft">shaded: window of the elongation; dashed: limit; dotted: jack force</p></div></div>
</section>
{{/pulls}}
<h2>Events</h2>
<table>{{#events}}<tr><td class="n">{{sequence}}</td><td>boot {{boot}}, {{at}}</td><td>{{text}}</td></tr>{{/events}}</table>
<div class="caution"><b>Cautions.</b> Nobody in line with a loaded strand, at either end. Bed cleared, guards and barriers in place.
A force within limits does not make a strand safe to approach. Never pull again a strand that slipped or lost a wire: unload and replace it.
Local codes and the responsible engineer decide; this sheet is evidence of what the controller measured, not a certificate.</div>
<p class="soft">Forces are those of the gauge table named beside them; {{uncertainty}}. Elongation is ram travel; the movement at the chuck is inferred from it.</p>
{{#simulated}}<p><b>No signature: a simulated bed can not be signed off.</b></p>{{/simulated}}
{{^simulated}}<div class="sign"><div>crew lead, date</div><div>quality control, date</div><div>remarks</div></div>{{/simulated}}
</body></html>
)page";

}  // namespace strandproof::host::report
