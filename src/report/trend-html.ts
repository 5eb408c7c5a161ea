import type { SeriesTrend } from "../core/index.js";
import type { Figure } from "./figures/figure.js";
import { plotlyFigure } from "./figures/plotly-figure.js";
import { apartRows } from "./figures/trend-chart.js";
import { plainLabel } from "./label-text.js";
import { labelMarkup, type Markup, markup, ready, scriptData, scriptSource } from "./markup.js";
import { cautionText } from "./messages.js";
import { PAGE_SCRIPT } from "./page-script.js";
import { PAGE_STYLE } from "./page-style.js";
import { BLANK_SEAL, SEAL_MARKS, sealed } from "./seal.js";
import { figureSection, tableMarkup } from "./sections/figures.js";
import { madeAtText } from "./sections/notes.js";
import type { BatteryStory, TrendContext } from "./trend-context.js";
import { trendJson } from "./trend-json.js";
import { concernText, dateText, seriesText, valueText } from "./trend-messages.js";
import { embeddedTrend, type TrendInputs } from "./trend-record.js";
import { worstSeries } from "./trend-terminal.js";
import {
  batteryAnswerWords,
  batteryFigures,
  concernedStories,
  fleetFigures,
  fleetHeadline,
  fleetTable,
  fleetTitle,
  flightSpan,
  judgementFacts,
  seriesTitle,
  TREND_CAUTIONS,
} from "./trend-words.js";

/** As a report of a recording, the page is whole and fetches nothing. */
const CONTENT_POLICY =
  "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: blob:; base-uri 'none'; form-action 'none'";

/** Sentences in tables may break; numbers of batteries may not. */
const TREND_STYLE = "#fleet td:last-child{white-space:normal;min-width:16rem}#fleet tbody th{white-space:nowrap}";

export interface TrendPageContext extends TrendContext {
  readonly plotlySource: string;
  /** What the page shall carry, so that it can be verified later. */
  readonly inputs?: TrendInputs;
}

/** A trend record with its seal set in, as the bytes of a file. */
export function sealedTrend(html: string): Uint8Array {
  return sealed(new TextEncoder().encode(html), "html");
}

/** The trend of one battery as one HTML document that opens from disk with no network. */
export function renderTrendReport(story: BatteryStory, context: TrendPageContext): string {
  const figures = batteryFigures(story);
  const title = `Battery ${plainLabel(story.battery)}`;
  const facts = markup`${story.aircraft === null ? null : markup`${labelMarkup(story.aircraft)}. `}${story.installedOn === null ? null : `Installed ${story.installedOn}. `}${story.retiredOn === null ? null : `Retired ${story.retiredOn}. `}${flightSpan(story)}`;
  return page(
    title,
    facts,
    context,
    figures,
    [story],
    [
      batteryAnswer(story),
      cautions(),
      figureSection(figures),
      judgementSection(story, context),
      ...story.series.map((series, index) => flightsSection(series, index + 1, context)),
    ],
  );
}

/** All batteries, most concern first, with the charts of those that ask for attention. */
export function renderFleetReport(stories: readonly BatteryStory[], context: TrendPageContext): string {
  const concerned = concernedStories(stories);
  const figures = fleetFigures(concerned);
  const title = fleetTitle(stories);
  return page(title, markup`From the history ${labelMarkup(context.store, 200)}.`, context, figures, concerned, [
    markup`<section id="answer" aria-labelledby="answer-h"><h2 id="answer-h">Answer</h2><div class="body">
<p class="headline">${fleetHeadline(stories)}</p>
<ul class="next">${concerned.map((story) => markup`<li><b>${labelMarkup(story.battery)}</b>: ${concernText(worstSeries(story)!, story.battery)}</li>`)}</ul></div></section>`,
    cautions(),
    figureSection(figures),
    markup`<section id="fleet" class="wide" aria-labelledby="fleet-h"><h2 id="fleet-h">All batteries</h2><div class="body">${tableMarkup(fleetTable(stories), "All batteries")}</div></section>`,
  ]);
}

function page(
  title: string,
  facts: Markup,
  context: TrendPageContext,
  figures: readonly Figure[],
  stories: readonly BatteryStory[],
  sections: readonly (Markup | null)[],
): string {
  const plots = Object.fromEntries(figures.map((figure) => [figure.id, plotlyFigure(figure)]));
  return markup`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${CONTENT_POLICY}">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="busdip ${context.softwareVersion}">
${context.inputs === undefined ? null : ready(`${SEAL_MARKS.html}${BLANK_SEAL}">\n`)}<title>${title}: trend record</title>
<style>${ready(PAGE_STYLE)}${ready(TREND_STYLE)}</style>
</head>
<body>
<header>
<p class="kind">Trend record</p>
<h1>${title}</h1>
<p class="facts-line">${facts} Made ${madeAtText(context.madeAt)}.</p>
</header>
<main>
${sections}
</main>
<footer><p>Made by busdip ${context.softwareVersion}. Advisory: the approved manuals and the licensed person decide.</p></footer>
<script type="application/json" id="busdip-trend">${scriptData(trendJson(stories, context))}</script>
${context.inputs === undefined ? null : [embeddedTrend(context.inputs), ready("\n")]}<script type="application/json" id="busdip-figures">${scriptData(plots)}</script>
<script>${scriptSource(context.plotlySource)}</script>
<script>${scriptSource(PAGE_SCRIPT)}</script>
</body>
</html>
`.html;
}

function batteryAnswer(story: BatteryStory): Markup {
  const { headline, further } = batteryAnswerWords(story);
  return markup`<section id="answer" aria-labelledby="answer-h"><h2 id="answer-h">Answer</h2><div class="body">
<p class="headline">${headline}</p>
${further.length === 0 ? null : markup`<ul class="next">${further.map((sentence) => markup`<li>${sentence}</li>`)}</ul>`}</div></section>`;
}

function cautions(): Markup {
  return markup`<section id="cautions" aria-labelledby="cautions-h"><h2 id="cautions-h">Cautions</h2><div class="body">
<ul class="cautions">${TREND_CAUTIONS.map((caution) => markup`<li>${cautionText(caution)}</li>`)}</ul></div></section>`;
}

function judgementSection(story: BatteryStory, context: TrendContext): Markup {
  const rows = story.series.map(
    (series) =>
      markup`<h3>${seriesTitle(series)}</h3><dl class="facts">${judgementFacts(series, story, context).map(([term, text]) => markup`<div><dt>${term}</dt><dd>${text}</dd></div>`)}</dl>`,
  );
  return markup`<section id="judgement" aria-labelledby="judgement-h"><h2 id="judgement-h">Judgement</h2><div class="body">${rows}</div></section>`;
}

function flightsSection(series: SeriesTrend, number: number, context: TrendContext): Markup {
  const title = seriesText(series);
  const rows = series.points.map((point, index) => {
    const href = context.reportHref(point);
    const date = dateText(point.atS);
    const link = href === null ? markup`${date}` : markup`<a href="${href}">${date}</a>`;
    return markup`<tr><th scope="row">${index + 1}</th><td>${link}</td><td>${valueText(series, point)}</td><td><code>${point.hash.slice(0, 12)}</code></td></tr>`;
  });
  const apart =
    series.apart.length === 0
      ? null
      : markup`<h3>Shown apart</h3>${tableMarkup({ head: ["Date", "Reading", "Why"], rows: apartRows(series) }, `Readings left out of ${title}`)}`;
  return markup`<section id="flights-${number}" class="wide" aria-labelledby="flights-${number}-h"><h2 id="flights-${number}-h">Flights: ${title}</h2><div class="body">
<div class="table" tabindex="0" role="region" aria-label="Flights: ${title}"><table>
<thead><tr><th scope="col">Flight</th><th scope="col">Date, its report</th><th scope="col">Reading, 95 % interval</th><th scope="col">Recording</th></tr></thead>
<tbody>${rows}</tbody></table></div>${apart}</div></section>`;
}
