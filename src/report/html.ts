import type { Analysis } from "../core/index.js";
import { embeddedRecord, type RecordData } from "./embedded-data.js";
import { coherentAverages } from "./figures/coherent-average.js";
import { depthIntervals } from "./figures/depth-intervals.js";
import { dipEnlargements } from "./figures/dip-enlargement.js";
import type { Figure } from "./figures/figure.js";
import { plotlyFigure } from "./figures/plotly-figure.js";
import { voltageTrace } from "./figures/voltage-trace.js";
import { namesOf, plainLabel } from "./label-text.js";
import { labelMarkup, type Markup, markup, ready, scriptData, scriptSource } from "./markup.js";
import { PAGE_SCRIPT } from "./page-script.js";
import { PAGE_STYLE } from "./page-style.js";
import type { ReportContext } from "./report-context.js";
import { toResultJson } from "./result-json.js";
import { BLANK_SEAL, SEAL_MARKS, sealed } from "./seal.js";
import { answerSection, cautionSection, meterSection } from "./sections/answer.js";
import { budgetSection } from "./sections/budgets.js";
import { figureSection } from "./sections/figures.js";
import { madeAtText, noteSections, provenanceSection, readingsSection } from "./sections/notes.js";
import { pictureSection } from "./sections/pictures.js";
import { entrySection, recordSection } from "./sections/record.js";
import { batterySection, dipSection, verdictSection } from "./sections/tables.js";
import { WHOLE_BUS_STYLE } from "./sections/whole-bus.js";

/** Nothing may be fetched: the page is whole, and says so to the browser. */
export const CONTENT_POLICY =
  "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'";

/** The context of an HTML report: beside the usual, the text of the plotting library to set into the page. */
export interface HtmlReportContext extends ReportContext {
  readonly plotlySource: string;
  /** What the report shall carry, so that it can be verified later. */
  readonly record?: RecordData;
}

/** The report with its seal set in, as the bytes of a file. */
export function renderHtmlRecord(
  analysis: Analysis,
  context: HtmlReportContext & { readonly record: RecordData },
): Uint8Array {
  return sealed(new TextEncoder().encode(renderHtmlReport(analysis, context)), "html");
}

/**
 * The report as one HTML document that opens from disk with no network.
 *
 * Every figure is drawn twice from one description: as SVG, which shows at once, without scripts and in print, and as
 * an interactive plot that takes its place on the screen.
 */
export function renderHtmlReport(analysis: Analysis, context: HtmlReportContext): string {
  const figures = reportFigures(analysis);
  const plots = Object.fromEntries(figures.map((figure) => [figure.id, plotlyFigure(figure)]));
  const title = documentTitle(context);
  const { record } = context;
  return markup`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${CONTENT_POLICY}">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="busdip ${context.softwareVersion}">
${record === undefined ? null : ready(`${SEAL_MARKS.html}${BLANK_SEAL}">\n`)}<title>${title}: voltage-dip record</title>
<style>${ready(context.wholeBus === undefined ? PAGE_STYLE : PAGE_STYLE + WHOLE_BUS_STYLE)}</style>
</head>
<body>
${masthead(context, title)}
<main>
${reportSections(analysis, context, figures)}</main>
<footer><p>Made by busdip ${context.softwareVersion}. Advisory: the approved manuals and the licensed person decide.</p></footer>
<script type="application/json" id="busdip-result">${scriptData(record?.result ?? toResultJson(analysis, context))}</script>
${record === undefined ? null : [embeddedRecord(record), ready("\n")]}<script type="application/json" id="busdip-figures">${scriptData(plots)}</script>
<script>${scriptSource(context.plotlySource)}</script>
<script>${scriptSource(PAGE_SCRIPT)}</script>
</body>
</html>
`.html;
}

/** Everything that a report says below its head. */
export function reportSections(
  analysis: Analysis,
  context: ReportContext & { readonly record?: RecordData },
  figures: readonly Figure[],
): Markup {
  const nameOf = namesOf(analysis.loads);
  const { record } = context;
  const { wholeBus } = context;
  return markup`${answerSection(analysis, wholeBus)}
${cautionSection(analysis)}
${meterSection(analysis, wholeBus)}
${figureSection(figures)}
${pictureSection(record)}
${verdictSection(analysis, nameOf)}
${dipSection(analysis, nameOf)}
${batterySection(analysis)}
${budgetSection(analysis, nameOf)}
${noteSections(analysis, nameOf)}
${readingsSection(analysis, context)}
${provenanceSection(analysis, context)}
${record === undefined ? null : [entrySection(analysis, context, record), ready("\n"), recordSection(record), ready("\n")]}`;
}

/** All figures of a report, in order. */
export function reportFigures(analysis: Analysis): readonly Figure[] {
  const nameOf = namesOf(analysis.loads);
  return [
    depthIntervals(analysis, nameOf),
    voltageTrace(analysis, nameOf),
    ...dipEnlargements(analysis, nameOf),
    coherentAverages(analysis, nameOf),
  ].filter((figure) => figure !== null);
}

/** The aircraft and its bus, or the recording, as a title. */
export function documentTitle(context: ReportContext): string {
  const aircraft = plainLabel(context.profile?.aircraft ?? "", 80);
  const bus = plainLabel(context.profile?.bus ?? "", 60);
  if (aircraft === "") return plainLabel(context.source, 80) || "Recording";
  return bus === "" ? aircraft : `${aircraft}, ${bus} bus`;
}

function masthead(context: ReportContext, title: string): Markup {
  const battery = context.profile?.battery?.id;
  return markup`<header>
<p class="kind">Voltage-dip record</p>
<h1>${title}</h1>
<p class="facts-line">${battery === undefined ? null : markup`Battery ${labelMarkup(battery)}. `}Recording ${labelMarkup(context.source, 120)}, made into this record ${madeAtText(context.madeAt)}.</p>
</header>`;
}
