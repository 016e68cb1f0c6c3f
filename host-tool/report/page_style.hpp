// The style that every page of the host tool begins with.
//
// Colours mean what IEC 60073 lets them mean, and every one has a text and a shape beside it: red for danger
// (a loaded bed, a strand to be replaced), yellow for something abnormal. There is no green: a force within
// limits is not a bed that is safe to walk up to.
#pragma once

namespace strandproof::host::report {

inline constexpr const char* page_style = R"page(
:root{--ink:#1c1f24;--soft:#535b66;--rule:#c9ced6;--paper:#fdfcf9;--wash:#f0eee8;--danger:#b3261e;--abnormal:#f2c200}
*{box-sizing:border-box}
body{margin:0 auto;padding:28px 30px 60px;max-width:980px;background:var(--paper);color:var(--ink);font:14px/1.45 "DejaVu Sans",Verdana,sans-serif}
h1{font-size:23px;margin:0 0 2px;letter-spacing:.2px}
h2{font-size:16px;margin:0 0 8px;padding-top:12px;border-top:3px double var(--rule)}
p{margin:6px 0}section{margin-top:26px}
.origin{border:3px solid var(--ink);padding:7px 14px;margin:14px 0;font-weight:bold;letter-spacing:3px;text-align:center}
.across{position:fixed;inset:0;display:flex;align-items:center;justify-content:center;pointer-events:none;z-index:3}
.across span{font-size:15vw;font-weight:bold;color:rgba(40,44,52,.10);transform:rotate(-31deg);letter-spacing:.06em}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;padding:4px 10px 4px 0;border-bottom:1px solid var(--rule);vertical-align:top}
th{font-weight:normal;color:var(--soft)}
.num{text-align:right;font-variant-numeric:tabular-nums;white-space:nowrap}
svg{width:100%;background:#fff;border:1px solid var(--rule)}
.sign{display:grid;grid-template-columns:repeat(3,1fr);gap:26px;margin-top:48px}.sign div{border-top:1px solid var(--ink);padding-top:5px;color:var(--soft)}
.digest{font-family:"DejaVu Sans Mono",monospace;font-size:11px;overflow-wrap:anywhere}
@page{margin:14mm}
@media print{body{background:#fff;max-width:none;padding:0;font-size:11px}section,.sign,tr{break-inside:avoid}
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}}
)page";

}  // namespace strandproof::host::report
