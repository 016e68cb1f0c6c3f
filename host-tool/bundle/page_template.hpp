// The readable part of a bundle as a Mustache template, in the style of the stressing record. Two braces
// escape; unescaped go in the styles and the sheets of the beds, which are made by this program.
#pragma once

namespace strandproof::host::bundle {

inline constexpr const char* bundle_style = R"page(
.facts li{margin:3px 0}.facts{margin:6px 0;padding-left:20px}
.bad{border:3px solid var(--danger);padding:8px 14px;margin:14px 0}
pre{font:10.5px/1.35 "DejaVu Sans Mono",monospace;background:var(--wash);padding:8px 10px;white-space:pre-wrap;overflow-wrap:anywhere}
.sheet{margin-top:40px;border-top:6px solid var(--ink);padding-top:10px}
.utc{white-space:nowrap}
@media print{.behind section{break-inside:auto}.sheet{break-before:page}pre{font-size:8px}tr{break-inside:avoid}}
)page";

// The policy keeps a browser from asking anyone for anything, whatever stands in the data.
inline constexpr const char* bundle_template = R"page(<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Bundle - {{title}}</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<style>{{{style}}}</style></head><body>
{{#simulated}}<div class="across" aria-hidden="true"><span>SIMULATED</span></div>{{/simulated}}
<header><h1>Bundle: {{title}}</h1>
<p class="soft">{{scope}}</p>
{{#origin}}<div class="origin">{{origin}}</div>{{/origin}}
</header>
<p>One file that holds what an archive knows of the above: for reading here, and to the byte in the data block at its end.
Whoever has the program checks it without archive, jack or network: <b>strandproof log verify FILE</b>. It follows every chain, checks every
signature, and compares this page with the one that the data give. Without the program: SHA-256 of the data block, from its first brace to its last,</p>
<p class="digest" id="data-sha256">{{digest}}</p>
{{#bad}}<div class="bad"><b>&#9650; WHAT DOES NOT HOLD</b><ul class="facts">{{#faults}}<li>{{text}}</li>
{{/faults}}</ul></div>{{/bad}}
<section><h2>What the data prove</h2>
<ul class="facts">{{#holds}}<li>{{text}}</li>
{{/holds}}</ul></section>
<section><h2>What is open in them</h2>
<ul class="facts">{{#open}}<li>{{text}}</li>
{{/open}}{{^any_open}}<li>nothing that this program looks at</li>{{/any_open}}</ul></section>
<section><h2>What no bundle proves</h2><ul class="facts">
<li>Whose key it is. Compare the fingerprints above with those on a stressing record printed at the time, or at another host.</li>
<li>That nothing came after the last record here. Records behind the last head that somebody else holds can be cut off.</li>
<li>More than the jack knew: its clock is as good as its quality says, its forces as good as sensors and gauge table.</li>
<li>Plans, remarks, history of the tables, versions, and the keys of the tags: they are the words of the host that made this file.
The chain of what people entered holds them together up to a head that is held elsewhere.</li>
<li>Anything against somebody who has both the jack's chip and the keys of the host, behind the last head that someone else holds.</li>
<li>That a strand is safe. This is evidence of what a controller measured, not a certificate: local codes and the responsible engineer decide.</li>
</ul></section>
{{#sheets}}<div class="sheet">{{{html}}}</div>
{{/sheets}}
<div class="sheet behind"><h1>Behind the figures</h1>
<section><h2>Jacks: versions, settings, clock</h2>
<table><thead><tr><th>jack</th><th>met</th><th>origin</th><th>build</th><th>protocol</th><th>settings</th><th>gauge table</th></tr></thead><tbody>
{{#seen}}<tr><td>{{jack}}</td><td>{{at}}</td><td>{{origin}}</td><td>{{build}}</td><td>{{protocol}}</td><td>revision {{settings}}</td><td>revision {{table}}</td></tr>
{{/seen}}</tbody></table>
<table><thead><tr><th>jack</th><th>quality of its clock, as its records say</th><th>records</th></tr></thead><tbody>
{{#clocks}}<tr><td>{{jack}}</td><td>{{quality}}</td><td>{{records}}</td></tr>
{{/clocks}}</tbody></table></section>
<section><h2>Instructions</h2>
<table><thead><tr><th>jack, instruction</th><th>bed, position</th><th>strand, reel</th><th>seated, jack force, limit</th><th>sent</th><th>plan</th></tr></thead><tbody>
{{#instructions}}<tr><td>{{jack}}, {{id}}</td><td>{{bed}}, {{position}}</td><td>{{strand}}, {{reel}}</td><td>{{forces}}</td><td>{{sent}}</td><td class="digest">{{plan}}</td></tr>
{{/instructions}}</tbody></table></section>
<section><h2>Gauge tables</h2>
<table><thead><tr><th>jack, revision</th><th>loaded</th><th>calibrated, due</th><th>origin, uncertainty</th><th>signed with</th><th>SHA-256, made of</th></tr></thead><tbody>
{{#tables}}<tr><td>{{jack}}, {{revision}}</td><td>{{loaded}}</td><td>{{calibrated}}<br>{{due}}</td><td>{{origin}}, {{uncertainty}}</td><td>{{signer}}</td><td class="digest">{{digest}}<br>{{source}}</td></tr>
{{/tables}}</tbody></table>
<table class="small"><thead><tr><th>jack, revision</th><th>column</th><th>points, bar : kN</th></tr></thead><tbody>
{{#columns}}<tr><td>{{jack}}, {{revision}}</td><td>{{name}}</td><td>{{points}}</td></tr>
{{/columns}}</tbody></table>
<table class="small"><thead><tr><th>when</th><th>jack, revision</th><th>what was done</th><th>by</th><th>why</th></tr></thead><tbody>
{{#history}}<tr><td>{{at}}</td><td>{{jack}}, {{revision}}</td><td>{{act}}</td><td>{{by}}</td><td>{{why}}</td></tr>
{{/history}}</tbody></table></section>
<section><h2>What people entered</h2>
<table class="small"><tbody>{{#entries}}<tr><td class="num">{{number}}</td><td>{{at}}</td><td>{{text}}</td></tr>
{{/entries}}</tbody></table></section>
<section><h2>Every record</h2>
<table class="small"><thead><tr><th>jack</th><th>record</th><th>boot</th><th>its time</th><th>UTC (clock)</th><th>what</th></tr></thead><tbody>
{{#records}}<tr><td>{{jack}}</td><td class="num">{{sequence}}</td><td>{{boot}}</td><td class="num">{{tick}}</td><td class="utc">{{utc}}</td><td>{{text}}</td></tr>
{{/records}}</tbody></table></section>
{{#documents}}<section><h2>Kept file: {{name}}</h2>
<p class="soft">kept {{kept}}, SHA-256</p><p class="digest">{{digest}}</p>
<pre>{{text}}</pre></section>
{{/documents}}</div>
)page";

inline constexpr const char* data_begin = "<script type=\"application/json\" id=\"strandproof-bundle\">\n";
inline constexpr const char* data_end = "\n</script>\n</body></html>\n";
inline constexpr const char* digest_mark = "id=\"data-sha256\">";

}  // namespace strandproof::host::bundle
