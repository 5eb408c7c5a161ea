import type { Analysis, BusItem, LoadAnswer, Verdict } from "../core/index.js";
import type { RecordData } from "./embedded-data.js";
import { documentTitle } from "./html.js";
import { namesOf, plainLabel } from "./label-text.js";
import { formatChance, formatQuantity } from "./number-format.js";
import { standingText, wholeBusHeadline, wholeBusSigns } from "./plan/whole-bus-words.js";
import { depthText, figuresLegend } from "./quantity-words.js";
import type { ReportContext } from "./report-context.js";
import { headline } from "./verdict-words.js";

/** One of several records that are filed as one document. */
export interface OneRecord {
  readonly analysis: Analysis;
  readonly context: ReportContext;
  readonly record: RecordData;
}

export const SEVERAL_HEAD = ["No.", "Load", "Verdict", "Depth", "Current", "By noise alone", "Recording"];

/** One row for each load of each record; a recording without loads named has one of its own. */
export function severalRows(records: readonly OneRecord[]): string[][] {
  return records.flatMap(({ analysis, context }, i) => {
    const nameOf = namesOf(analysis.loads);
    const source = plainLabel(context.source, 60);
    if (analysis.loads.length === 0 && context.wholeBus === undefined) {
      return [[String(i + 1), "none named", headline(analysis), "", "", "", source]];
    }
    const items = context.wholeBus?.items ?? analysis.loads.map((load) => ({ id: load.id, answer: load }));
    return items.map((item, k) => [
      k === 0 ? String(i + 1) : "",
      "name" in item ? plainLabel(item.name) : nameOf(item.id),
      "tick" in item ? tickedStanding(item) : item.answer.verdict,
      ...answerFigures(item.answer),
      k === 0 ? source : "",
    ]);
  });
}

/** What stands for or against an item, with what a person found. */
function tickedStanding(item: BusItem): string {
  const { tick } = item;
  return tick === null
    ? standingText(item)
    : `${standingText(item)} (${tick.found === "not" ? "not found" : tick.found})`;
}

function answerFigures(answer: LoadAnswer | null): readonly [string, string, string] {
  if (answer === null) return ["", "", ""];
  return [
    depthText(answer),
    answer.current === null ? "not identifiable" : formatQuantity(answer.current, { form: "compact" }),
    formatChance(answer.pValue),
  ];
}

/** Everything answered in one sentence. */
export function severalHeadline(records: readonly OneRecord[]): string {
  const loads = records.flatMap(({ analysis }) => analysis.loads);
  const count = (verdict: string): number => loads.filter((load) => load.verdict === verdict).length;
  const parts = (["responded", "no response", "undecided"] as const)
    .map((verdict) => [count(verdict), verdict] as const)
    .filter(([n]) => n > 0)
    .map(([n, verdict]) => `${n} ${verdict}`);
  const of = `${records.length} recordings, ${loads.length} ${loads.length === 1 ? "load" : "loads"}`;
  const accounts = records.flatMap(({ context }, i) =>
    context.wholeBus === undefined ? [] : [` Whole bus of record ${i + 1}: ${wholeBusHeadline(context.wholeBus)}`],
  );
  const by = accounts.length === 0 ? "" : " by the meter";
  return `${parts.length === 0 ? `${of}.` : `${of}:${by} ${parts.join(", ")}.`}${accounts.join("")}`;
}

/** The verdict whose sign stands in each row. */
export function severalSigns(records: readonly OneRecord[]): readonly Verdict[] {
  return records.flatMap(({ analysis, context }) => {
    if (context.wholeBus !== undefined) return wholeBusSigns(context.wholeBus);
    return analysis.loads.length === 0 ? ["undecided"] : analysis.loads.map((load) => load.verdict);
  });
}

/** What stands behind the figures of all records. */
export function severalLegend(records: readonly OneRecord[]): string {
  return records.map(({ analysis }) => figuresLegend(analysis)).find((legend) => legend !== "") ?? "";
}

/** What the document is called: the one aircraft and bus of all, or how many recordings there are. */
export function severalTitle(records: readonly OneRecord[]): string {
  const titles = new Set(records.map(({ context }) => documentTitle(context)));
  const known = records.every(({ context }) => context.profile?.aircraft !== undefined);
  return titles.size === 1 && known ? [...titles][0]! : `${records.length} recordings`;
}

/** The newest moment of making, so that the same records always give the same document. */
export function newestMoment(records: readonly OneRecord[]): string {
  return records
    .map(({ context }) => context.madeAt)
    .sort()
    .at(-1)!;
}
