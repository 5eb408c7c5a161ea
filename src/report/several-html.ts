import { embeddedRecord } from "./embedded-data.js";
import { plotlyFigure } from "./figures/plotly-figure.js";
import { CONTENT_POLICY, reportFigures, reportSections } from "./html.js";
import { plainLabel } from "./label-text.js";
import { type Markup, markup, ready, scriptData, scriptSource } from "./markup.js";
import { cautionText } from "./messages.js";
import { PAGE_SCRIPT } from "./page-script.js";
import { PAGE_STYLE } from "./page-style.js";
import { BLANK_SEAL, SEAL_MARKS, sealed } from "./seal.js";
import { tableMarkup } from "./sections/figures.js";
import { madeAtText } from "./sections/notes.js";
import { WHOLE_BUS_STYLE } from "./sections/whole-bus.js";
import {
  newestMoment,
  type OneRecord,
  SEVERAL_HEAD,
  severalHeadline,
  severalLegend,
  severalRows,
  severalTitle,
} from "./several-records.js";

/** The usual style, its names of sections standing for those of every record; as strong as they were. */
const SEVERAL_STYLE = `${PAGE_STYLE.replace(/#(verdicts|battery|dips|figures)\b/g, ':is([id$="-$1"],#no-such)')}
.one-record{margin-top:3rem}@media print{.one-record{break-before:page}}`;

/** Several records as one sealed HTML document that opens from disk: all answers first, then each record in full. */
export function renderSeveralHtml(
  records: readonly OneRecord[],
  { plotlySource }: { readonly plotlySource: string },
): Uint8Array {
  const title = severalTitle(records);
  const { softwareVersion } = records[0]!.context;
  const figures = records.map(({ analysis }, i) =>
    reportFigures(analysis).map((figure) => ({ ...figure, id: `r${i + 1}-${figure.id}` })),
  );
  const plots = Object.fromEntries(figures.flat().map((figure) => [figure.id, plotlyFigure(figure)]));
  const cautions = [...new Set(records.flatMap(({ analysis }) => analysis.cautions.map(cautionText)))];
  const whole = records.some(({ context }) => context.wholeBus !== undefined);
  const page = markup`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${CONTENT_POLICY}">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="busdip ${softwareVersion}">
${ready(`${SEAL_MARKS.html}${BLANK_SEAL}">\n`)}<title>${title}: voltage-dip records</title>
<style>${ready(whole ? SEVERAL_STYLE + WHOLE_BUS_STYLE : SEVERAL_STYLE)}</style>
</head>
<body>
<header>
<p class="kind">Voltage-dip records</p>
<h1>${title}</h1>
<p class="facts-line">Made into this record ${madeAtText(newestMoment(records))}.</p>
</header>
<main>
<section id="answers" class="wide" aria-labelledby="answers-h"><h2 id="answers-h">Answers</h2><div class="body">
<p class="headline">${severalHeadline(records)}</p>
${tableMarkup({ head: SEVERAL_HEAD, rows: severalRows(records) }, "Answers of all recordings")}
<p class="aside">${severalLegend(records)}</p>
<p class="aside">${records.map((_, i) => markup`${i === 0 ? "" : ", "}<a href="#record-${i + 1}">Record ${i + 1}</a>`)}</p></div></section>
<section id="all-cautions" aria-labelledby="all-cautions-h"><h2 id="all-cautions-h">Cautions</h2><div class="body">
<ul class="cautions">${cautions.map((caution) => markup`<li>${caution}</li>`)}</ul></div></section>
</main>
${records.map((one, i) => oneRecord(one, i + 1, figures[i]!))}<footer><p>Made by busdip ${softwareVersion}. Advisory: the approved manuals and the licensed person decide.</p></footer>
${records.map(
  (
    { record },
    i,
  ) => markup`<script type="application/json" id="busdip-result-${i + 1}">${scriptData(record.result)}</script>
${embeddedRecord(record, `-${i + 1}`)}
`,
)}<script type="application/json" id="busdip-figures">${scriptData(plots)}</script>
<script>${scriptSource(plotlySource)}</script>
<script>${scriptSource(PAGE_SCRIPT)}</script>
</body>
</html>
`.html;
  return sealed(new TextEncoder().encode(page), "html");
}

function oneRecord(
  { analysis, context, record }: OneRecord,
  number: number,
  figures: Parameters<typeof reportSections>[2],
): Markup {
  const sections = reportSections(analysis, { ...context, record }, figures).html;
  // A quotation mark stands in markup only around attributes; every name gets the record's own prefix.
  const own = sections.replace(
    /( (?:id|aria-labelledby)="|href="#)(?![^"]*\br\d+-)([^"]+")/g,
    (_, attribute: string, name: string) => `${attribute}r${number}-${name}`,
  );
  return markup`<article id="record-${number}" class="one-record"><header>
<p class="kind">Record ${number}</p>
<h1>${plainLabel(context.source, 120)}</h1>
</header>
<div class="sections">
${ready(own)}</div></article>
`;
}
