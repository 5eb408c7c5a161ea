import { DARK_PALETTE, figureRules, LIGHT_PALETTE, paletteProperties } from "./figures/svg-style.js";

/** The report's style sheet: one column of text with its headings in the margin where there is room. */
export const PAGE_STYLE = `
:root{color-scheme:light dark;${paletteProperties(LIGHT_PALETTE)}
--serif:Charter,"Bitstream Charter","Sitka Text",Cambria,Georgia,"DejaVu Serif",serif;
--sans:system-ui,-apple-system,"Segoe UI",Roboto,"Helvetica Neue",Arial,sans-serif;
--mono:ui-monospace,"SF Mono",Consolas,"DejaVu Sans Mono",monospace}
@media (prefers-color-scheme:dark){:root{${paletteProperties(DARK_PALETTE)}}}
@media print{:root{color-scheme:light;${paletteProperties({ ...LIGHT_PALETTE, paper: "#ffffff" })}}}
*{box-sizing:border-box}
html{background:var(--paper);-webkit-text-size-adjust:100%}
body{margin:0 auto;max-width:62rem;padding:2.5rem 1.5rem 4rem;color:var(--ink);font:1.0625rem/1.5 var(--serif);overflow-wrap:break-word}
header{border-top:3px solid var(--ink);border-bottom:1px solid var(--ink);padding:.8rem 0 1rem;margin-bottom:2rem}
header .kind,h2,.verdict strong,dt,th,.key,.figure-title,figcaption,summary,.table,.who,footer,.facts dd{font-family:var(--sans)}
header .kind{margin:0;font-size:.8125rem;letter-spacing:.04em;color:var(--soft)}
h1{font-size:1.9rem;line-height:1.15;margin:.15rem 0 .45rem;font-weight:600;overflow-wrap:anywhere}
header .facts-line{margin:0;font:.9rem/1.45 var(--sans);color:var(--soft);overflow-wrap:anywhere}
section{padding:1.1rem 0 1.4rem;border-top:1px solid var(--grid)}
section:first-of-type{border-top:0;padding-top:0}
h2{font-size:.9375rem;line-height:1.4;font-weight:650;margin:0 0 .6rem}
h3{font:600 .9375rem/1.4 var(--sans);margin:1.5rem 0 .4rem;overflow-wrap:anywhere}
.body>h3:first-child{margin-top:0}
p{margin:0 0 .7rem}
ul,ol{margin:0;padding-left:1.15rem}
li{margin:.25rem 0}
a{color:inherit;text-decoration-color:var(--soft);text-underline-offset:.15em}
a:focus-visible,summary:focus-visible,[tabindex]:focus-visible{outline:2px solid var(--model);outline-offset:2px}
.headline{font-size:1.3rem;line-height:1.35;margin-bottom:1rem;text-wrap:pretty}
.aside{font:.875rem/1.45 var(--sans);color:var(--soft);margin:.6rem 0 0}
.answers{list-style:none;padding:0;border-bottom:1px solid var(--grid)}
.answer{display:grid;grid-template-columns:4rem minmax(9rem,1fr) minmax(0,1.6fr);column-gap:1rem;row-gap:.2rem;padding:.7rem 0;margin:0;border-top:1px solid var(--grid);align-items:start}
.pictogram{width:3.5rem;height:1.75rem;margin-top:.15rem;fill:none;stroke:var(--tone);stroke-width:3.4;stroke-linejoin:miter}
.pictogram .ghost{stroke:var(--soft);stroke-width:1.6;stroke-dasharray:2 3}
.pictogram .broken{stroke-dasharray:6 3.2}
.pictogram text{font:700 13px var(--sans);fill:var(--tone);stroke:none;text-anchor:middle}
.answer.responded{--tone:var(--responded)}.answer.silent{--tone:var(--silent)}.answer.undecided{--tone:var(--undecided)}
.verdict{margin:0;line-height:1.3}
.who{display:block;font-weight:600;overflow-wrap:anywhere}
.verdict strong{color:var(--tone);font-weight:700}
.answer dl{margin:0;display:grid;grid-template-columns:repeat(3,minmax(min-content,1fr));gap:.1rem .6rem}
dt{font-size:.75rem;color:var(--soft);line-height:1.3}
dd{margin:0;font-variant-numeric:tabular-nums lining-nums}
.answer dd{overflow-wrap:normal;font:.9375rem/1.35 var(--sans);font-variant-numeric:tabular-nums lining-nums}
.why{grid-column:2/-1;margin:0;font-size:.9375rem;color:var(--soft)}
.battery-line{margin:1rem 0 0}
.next{font-size:1.0625rem}
.cautions{list-style:none;padding:0 0 0 1rem;border-left:4px solid var(--silent)}
figure{margin:0 0 2.2rem}
.figure-title{margin:0 0 .2rem;font-size:.9375rem;overflow-wrap:anywhere}
.key{display:flex;flex-wrap:wrap;gap:.15rem 1.1rem;margin:0 0 .3rem;font-size:.8125rem;color:var(--soft)}
.key span{display:inline-flex;align-items:center;gap:.4rem}
.swatch{width:30px;height:16px;flex:none}
figcaption{font-size:.8125rem;line-height:1.45;color:var(--soft);margin-top:.3rem}
.drawing.static{overflow-x:auto}
.drawing.static svg{display:block;width:100%;min-width:34rem;height:auto}
figure.drawn .static{display:none}
details{margin-top:.4rem}
summary{font-size:.8125rem;color:var(--soft);cursor:pointer;width:max-content;max-width:100%}
.table{overflow-x:auto;font-size:.875rem;line-height:1.35}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums lining-nums}
th,td{text-align:left;vertical-align:top;padding:.32rem .9rem .32rem 0;border-bottom:1px solid var(--grid)}
th:last-child,td:last-child{padding-right:0}
thead th{font-size:.75rem;font-weight:500;color:var(--soft);border-bottom:1px solid var(--ink);vertical-align:bottom}
tbody th{font-weight:600;max-width:16rem;overflow-wrap:anywhere}
#verdicts tbody th,#battery tbody th,.budget tbody th{min-width:8rem}
td,#record tbody th{white-space:nowrap}
#battery td:last-child,#dips td:last-child{white-space:normal;min-width:12rem}
.share{display:flex;align-items:center;gap:.5rem}
.bar{width:60px;height:10px;flex:none}
.bar path{stroke-width:6;fill:none}.bar-ground{stroke:var(--grid)}.bar-share{stroke:var(--ink)}
.facts{margin:0}
.facts div{display:grid;grid-template-columns:minmax(8rem,14rem) minmax(0,1fr);gap:.2rem 1rem;padding:.25rem 0;border-bottom:1px solid var(--grid)}
.facts dt{font-size:.8125rem;padding-top:.1rem}
.facts dd{font-size:.9375rem;overflow-wrap:anywhere}
code,pre{font-family:var(--mono);font-size:.8125rem}
pre{margin:0;padding:.7rem .9rem;border-left:2px solid var(--grid);overflow-x:auto;white-space:pre-wrap;overflow-wrap:anywhere}
footer p{margin:0}
footer{break-before:avoid;border-top:1px solid var(--ink);padding-top:.7rem;font-size:.8125rem;color:var(--soft)}
@media (min-width:60rem){
section{display:grid;grid-template-columns:9.5rem minmax(0,1fr);column-gap:1.5rem}
h2{position:sticky;top:1rem;align-self:start}
.wide{display:block}
.wide h2{position:static}
}
@media (max-width:40rem){
body{padding:1.2rem 1rem 3rem;font-size:1rem}
h1{font-size:1.55rem}
.headline{font-size:1.15rem}
.answer{grid-template-columns:3.5rem minmax(0,1fr)}
.pictogram{width:3rem;height:1.5rem}
.answer dl{grid-column:1/-1;margin-top:.25rem}
.why{grid-column:1/-1}
.facts div{grid-template-columns:1fr;gap:0}
#figures figure{margin-bottom:1.8rem}
}
@page{margin:14mm 14mm 16mm;@bottom-right{content:counter(page) " / " counter(pages);font:8pt sans-serif;color:#5a6068}}
@media print{
html{font-size:13px}
body{max-width:none;padding:0;font-size:10pt;line-height:1.4}
section{display:block;padding:.7rem 0 .9rem}
h2{position:static;font-size:11pt;break-after:avoid}
h3,.figure-title,.key{break-after:avoid}
#battery td:last-child,#dips td:last-child{min-width:0}
figure,.answer,tr,.cautions,.facts div{break-inside:avoid}
.interactive,details{display:none!important}
figure.drawn .static{display:block}
.drawing.static svg{min-width:0}
.drawing.static,.table{overflow:visible}
.table{font-size:8pt}
thead th,.answer dt{font-size:7.5pt}
.headline{font-size:13pt}
.answer dd,.why,.next{font-size:9.5pt}
th,td{padding-right:.5rem}
#verdicts .body,#battery .table,.budget{break-inside:avoid}
thead{display:table-header-group}
*{print-color-adjust:exact;-webkit-print-color-adjust:exact}
}
${figureRules()}`;
