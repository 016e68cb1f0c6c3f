// The page of the stressing record as Mustache templates: its style, the sheet of one bed, and the page
// around it. A bundle holds the same sheets. Two braces escape; only the style and the picture, which are
// made by this program, go in unescaped.
#pragma once

namespace strandproof::host::report {

inline constexpr const char* sheet_style =
    R"page(h3{font-size:13px;margin:14px 0 4px;color:var(--soft);font-weight:normal}
.soft{color:var(--soft)}
.load{border:2px solid var(--ink);border-left-width:14px;padding:9px 14px;margin:14px 0;display:flex;flex-wrap:wrap;gap:4px 16px;align-items:baseline}
.load b{font-size:18px}.load.on{border-color:var(--danger)}
.figures th{width:43%}
.small th{font-size:11.5px;padding:2px 8px 2px 0}
.small td{font-size:11.5px;line-height:1.35;padding:2px 8px 2px 0}
.pull{display:grid;grid-template-columns:minmax(0,1fr) minmax(0,1.2fr);gap:22px}
.mark{display:inline-block;border:2px solid var(--ink);padding:2px 10px;font-weight:bold}
.mark.abnormal{background:var(--abnormal)}
.mark.danger{background:var(--danger);border-color:var(--danger);color:#fff}
svg text{font-size:10.5px;fill:var(--soft)}
svg .g{stroke:#e4e6ea}svg .w{fill:#dfe3ea;opacity:.65}svg .l{stroke:var(--ink);stroke-dasharray:7 3}svg .t{stroke:var(--soft);stroke-dasharray:2 3}
svg .p{stroke:#8a94a3;stroke-width:5;opacity:.45;stroke-linecap:round}
svg .c{fill:none;stroke:var(--ink);stroke-width:1.7}svg circle{fill:var(--ink)}
.caution{background:var(--wash);border-left:6px solid var(--ink);padding:10px 16px;margin:22px 0}
.caution ul{margin:4px 0;padding-left:20px}
@media (max-width:700px){.pull,.sign{grid-template-columns:1fr}}
@media print{.caution{break-inside:avoid}}
)page";

inline constexpr const char* page_begin = R"page(<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>Stressing record - {{bed_name}}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>{{{style}}}</style></head><body>
{{#simulated}}<div class="across" aria-hidden="true"><span>SIMULATED</span></div>{{/simulated}}
)page";

inline constexpr const char* sheet_template = R"page(<header>
<h1>Stressing record: {{bed_name}}</h1>
<p class="soft">bed {{bed}}, jack {{jacks}}{{#printed}}, printed {{printed}}{{/printed}}</p>
{{#simulated}}<div class="origin">SIMULATED{{#emulated}} (EMULATED TARGET){{/emulated}} - NOT A RECORD OF STEEL</div>{{/simulated}}
<div class="load{{#loaded}} on{{/loaded}}"><span>load state of the bed at the last record</span><b>{{#loaded}}&#9650; {{/loaded}}{{load_state}}</b>
{{#loaded}}<span>Keep clear of the line of the strands, at both ends.</span>{{/loaded}}</div>
</header>
{{#in_doubt}}<p><span class="mark abnormal">&#9650; CALIBRATION IN DOUBT</span> {{in_doubt}}</p>{{/in_doubt}}
<p>{{summary}}</p>
<table><thead><tr><th>position</th><th>strand</th><th>reel</th><th>verdict</th><th>locked force, calculated</th><th>off</th><th>elongation</th><th>off</th></tr></thead><tbody>
{{#pulls}}<tr><td>{{position}}</td><td>{{strand}}</td><td>{{reel}}</td><td>{{#good}}&#10003; {{/good}}{{^good}}&#10007; {{/good}}{{verdict}}{{#doubt}}; calibration in doubt{{/doubt}}</td><td>{{locked}}</td><td class="num">{{locked_off}}</td><td>{{elongation}}</td><td class="num">{{elongation_off}}</td></tr>
{{/pulls}}</tbody></table>
{{#pulls}}
<section><h2>Position {{position}}: {{strand}}, reel {{reel}}</h2>
<div class="pull"><div>
<p><span class="mark{{#replace}} danger{{/replace}}{{#abnormal}} abnormal{{/abnormal}}">{{#good}}&#10003; {{/good}}{{#abnormal}}&#9650; {{/abnormal}}{{#replace}}&#10007; {{/replace}}{{verdict}}</span></p>
{{#cause}}<p><b>{{cause}}</b>: {{remedy}}</p>{{/cause}}
{{#doubt}}<p><span class="mark abnormal">&#9650; CALIBRATION IN DOUBT</span> gauge table withdrawn: {{doubt}}. No force of this pull is to be relied on.</p>{{/doubt}}
<table class="figures"><tbody>
<tr><th>record, instruction</th><td>{{sequence}}, {{instruction}}</td></tr>
<tr><th>time</th><td>{{time}}</td></tr>
<tr><th>force at the datum</th><td>{{initial}}</td></tr>
<tr><th>jack force planned</th><td>{{jack_force}}</td></tr>
<tr><th>force at end of settle</th><td>{{settle}}</td></tr>
<tr><th>draw-in</th><td>{{draw_in}}</td></tr>
<tr><th>locked force, calculated</th><td>{{locked}}</td></tr>
<tr><th>seated force and window</th><td>{{seated}}</td></tr>
<tr><th>elongation</th><td>{{elongation}}</td></tr>
<tr><th>strokes</th><td>{{strokes}}</td></tr>
<tr><th>planned, window</th><td>{{elongation_plan}}, {{elongation_window}}</td></tr>
<tr><th>highest force, limit</th><td>{{peak}}, {{limit}}</td></tr>
<tr><th>stiffness seen</th><td>{{stiffness}}</td></tr>
<tr><th>top-ups, duration</th><td>{{top_ups}}, {{duration}}</td></tr>
<tr><th>gauge table, settings</th><td>revision {{table}}, revision {{settings}}</td></tr>
<tr><th>load state after</th><td>{{load}}</td></tr>
</tbody></table></div>
<div>{{{picture}}}<p class="soft">{{points}}; broad line: plan; shaded: window of the elongation; dashed: limit; dotted: jack force</p>
<h3>Events of this pull</h3>
<table class="small"><tbody>{{#pull_events}}<tr><td class="num">{{sequence}}</td><td class="num">{{at}}</td><td>{{text}}</td></tr>{{/pull_events}}</tbody></table>
{{#trips}}<h3>What the jack saw around the trip of record {{sequence}}: {{cause}}</h3>
{{{shot}}}<p class="soft">{{samples}}</p>
<p>{{head}}</p><table class="small"><thead><tr><th>detector</th><th>value</th><th>limit</th><th>margin</th></tr></thead><tbody>
{{#margins}}<tr><td>{{#active}}&#9650; <b>{{/active}}{{detector}}{{#active}}</b>{{/active}}</td><td>{{value}}</td><td>{{limit}}</td><td>{{margin}}</td></tr>
{{/margins}}</tbody></table>{{/trips}}
</div></div>
</section>
{{/pulls}}
<section><h2>Other events of the jack</h2>
<table class="small"><tbody>{{#others}}<tr><td class="num">{{sequence}}</td><td>boot {{boot}}</td><td class="num">{{at}}</td><td>{{text}}</td></tr>{{/others}}</tbody></table>
</section>
<section><h2>What the figures rest on</h2>
<table><thead><tr><th>jack</th><th>gauge table</th><th>expanded uncertainty of a force</th><th>digest of the table</th></tr></thead><tbody>
{{#tables}}<tr><td>{{jack}}</td><td>revision {{revision}}</td><td>{{uncertainty}}</td><td class="digest">{{digest}}</td></tr>{{/tables}}
</tbody></table>
{{#trends}}<p>{{text}}</p>{{/trends}}
{{#sign_offs}}<p>{{text}}</p>{{/sign_offs}}
<p>Times of events are seconds of the jack's boot. Elongation is ram travel from the datum; the movement at the chuck is inferred from it.
Over several strokes it is summed from lift-off to end of settle; standard uncertainty {{re_bite_uncertainty}} a re-bite, a figure of our own simulated jack.
The locked force is calculated from the force at the end of the settle and the draw-in, not measured by lift-off.
Its uncertainty is that of the table and that of the draw-in together, expanded (k = 2); standard uncertainty of a draw-in {{draw_in_uncertainty}}, a figure of our own simulated jack, not measured on a real one.</p>
<p>Printed from this bed's records up to number {{last_sequence}}; SHA-256 over their bytes in order:</p><p class="digest">{{digest}}</p>
{{#heads}}<p class="digest">{{line}}</p>{{/heads}}{{#no_heads}}<p>No head of a jack's log is held by this host: the records are not proven by their chain.</p>{{/no_heads}}
</section>
<div class="caution"><b>Cautions</b><ul>
<li>Nobody in line with a loaded strand, at either end. Nobody on or across the bed. Guards and barriers in place.</li>
<li>A force within limits does not make a strand safe to approach.</li>
<li>Never pull again a strand that slipped or lost a wire: unload it under control and replace it.</li>
<li>Local codes and the responsible engineer decide. This sheet is evidence of what the controller measured, not a certificate.</li></ul></div>
{{#simulated}}<p><b>No signature: a simulated bed can not be signed off.</b></p>{{/simulated}}
{{^simulated}}<div class="sign"><div>crew lead, date</div><div>quality control, date</div><div>remarks</div></div>{{/simulated}}
)page";

inline constexpr const char* page_end = "</body></html>\n";

}  // namespace strandproof::host::report
