import type { SeriesTrend } from "../core/index.js";
import { apartRows } from "./figures/trend-chart.js";
import { plainLabel } from "./label-text.js";
import { cautionText } from "./messages.js";
import { type Attachment, attach, figurePages, headedTable, sealedPdf } from "./pdf.js";
import { type Paper, type PdfFlow, type PdfFonts, TEXT } from "./pdf-flow.js";
import { setTable } from "./pdf-table.js";
import { sha256Hex } from "./seal.js";
import { madeAtText } from "./sections/notes.js";
import type { BatteryStory, TrendContext } from "./trend-context.js";
import { trendJson } from "./trend-json.js";
import { concernText, dateText, seriesText, valueText } from "./trend-messages.js";
import { type TrendInputs, trendAttachments } from "./trend-record.js";
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

export interface TrendPdfContext extends TrendContext {
  readonly fonts: PdfFonts;
  /** A4 unless told otherwise. */
  readonly paper?: Paper;
  /** What the record shall carry beside the trend; null where the history is too large. */
  readonly inputs: TrendInputs | null;
}

/**
 * The trend of one battery as a sealed PDF/A-3a file: the answer on the first page, control charts as vectors, every
 * flight, the history attached. The same input gives the same bytes.
 */
export async function renderTrendPdf(story: BatteryStory, context: TrendPdfContext): Promise<Uint8Array> {
  const facts = [
    ...(story.aircraft === null ? [] : [plainLabel(story.aircraft)]),
    ...(story.installedOn === null ? [] : [`Installed ${story.installedOn}`]),
    ...(story.retiredOn === null ? [] : [`Retired ${story.retiredOn}`]),
    flightSpan(story).replace(/\.$/, ""),
  ];
  return await trendPdf({ title: `Battery ${plainLabel(story.battery)}`, facts }, [story], context, (flow) => {
    const { headline, further } = batteryAnswerWords(story);
    flow.paragraph(headline, TEXT.lead, 6);
    if (further.length > 0) flow.list(further);
    setTable(flow, {
      head: ["What was watched", "Status", "Level", "Forecast"],
      rows: story.series.map((series) => {
        const facts = new Map(judgementFacts(series, story, context));
        return [seriesTitle(series), facts.get("Status")!, facts.get("Level")!, facts.get("Forecast")!];
      }),
    });
    flow.paragraph("\u00b1 is half the 95 % coverage interval.", TEXT.aside);
    cautions(flow);
    flow.newPage();
    figurePages(flow, batteryFigures(story));
    flow.heading("H2", "Judgement", 60);
    for (const series of story.series) {
      flow.heading("H3", seriesTitle(series), 80);
      setTable(flow, { head: ["Fact", "Value"], rows: judgementFacts(series, story, context) });
    }
    for (const series of story.series) flights(flow, series);
  });
}

/** All batteries as a sealed PDF/A-3a file, most concern first, with the charts of those that ask for attention. */
export async function renderFleetPdf(stories: readonly BatteryStory[], context: TrendPdfContext): Promise<Uint8Array> {
  const concerned = concernedStories(stories);
  const facts = [`From the history ${plainLabel(context.store, 200)}`];
  return await trendPdf({ title: fleetTitle(stories), facts }, concerned, context, (flow) => {
    flow.paragraph(fleetHeadline(stories), TEXT.lead, 6);
    if (concerned.length > 0) {
      flow.list(
        concerned.map((story) => `${plainLabel(story.battery)}: ${concernText(worstSeries(story)!, story.battery)}`),
      );
    }
    cautions(flow);
    flow.heading("H2", "All batteries", 60);
    setTable(flow, fleetTable(stories));
    figurePages(flow, fleetFigures(concerned));
  });
}

async function trendPdf(
  { title, facts }: { readonly title: string; readonly facts: readonly string[] },
  stories: readonly BatteryStory[],
  context: TrendPdfContext,
  set: (flow: PdfFlow) => void,
): Promise<Uint8Array> {
  const { inputs, madeAt } = context;
  const files = trendAttachments(trendJson(stories, context), inputs);
  const history = inputs === null ? "not carried" : `SHA-256 ${sha256Hex(inputs.historyText)}`;
  const heading = { ...context, title: `${title}: trend record`, subject: `Trend from the history, ${history}` };
  return await sealedPdf(heading, `history ${history.slice(0, 24)}...`, (flow) => {
    flow.rule("ink", 2);
    flow.space(6);
    flow.paragraph("Trend record", TEXT.aside, 0);
    flow.heading("H1", title);
    flow.paragraph(`${facts.join(". ")}. Made ${madeAtText(madeAt)}.`, TEXT.aside);
    flow.rule("ink");
    flow.heading("H2", "Answer");
    set(flow);
    carried(flow, files);
    return () => {
      for (const file of files) attach(flow.doc, file, madeAt);
    };
  });
}

function cautions(flow: PdfFlow): void {
  flow.heading("H2", "Cautions");
  flow.list(TREND_CAUTIONS.map(cautionText));
}

function flights(flow: PdfFlow, series: SeriesTrend): void {
  flow.heading("H2", `Flights: ${seriesText(series)}`, 60);
  setTable(flow, {
    head: ["Flight", "Date", "Reading, 95 % interval", "Recording"],
    rows: series.points.map((point, index) => [
      String(index + 1),
      dateText(point.atS),
      valueText(series, point),
      point.hash.slice(0, 12),
    ]),
  });
  if (series.apart.length === 0) return;
  flow.heading("H3", "Shown apart", 40);
  setTable(flow, { head: ["Date", "Reading", "Why"], rows: apartRows(series) });
}

function carried(flow: PdfFlow, files: readonly Attachment[]): void {
  headedTable(flow, "This record", {
    head: ["Carried in this file", "What", "Bytes", "SHA-256"],
    rows: files.map(({ name, about, text }) => [
      name,
      about,
      new TextEncoder().encode(text).length.toLocaleString("en"),
      sha256Hex(text),
    ]),
    style: TEXT.fine,
  });
  const told = files.some(({ name }) => name === "history.json")
    ? "To check it: busdip verify, with this file, judges the carried history again and compares numbers and text. Anyone can make such a file, so the check shows whether it agrees with itself, not who made it; a shop's own key (--sign) shows that."
    : "The history is too large to be carried here, so the trend cannot be computed again from this file: keep the history.";
  flow.paragraph(told, TEXT.aside);
}
