import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openHistory, readHistoryJson, StoreError } from "../history/index.js";
import { InputError } from "../importers/input-error.js";
import {
  type BatteryStory,
  renderFleetReport,
  renderTrendReport,
  sealedTrend,
  type TrendContext,
  trendJson,
} from "../report/index.js";
import type { TrendInputs, TrendReading } from "../report/trend-record.js";
import { concernedStories } from "../report/trend-words.js";
import { batteryStory, fleetStories, scatterOfFleet, type TrendWishes } from "./trend-stories.js";
import { type CheckLine, type CheckMeans, isMaker, softwareLines } from "./verify-line.js";
import { type Claim, compareResults, numberLines } from "./verify-numbers.js";
import { type Drawing, drawingLines } from "./verify-redraw.js";

/** What checking a trend record found. */
export interface TrendCheck {
  readonly madeBy: { readonly version: string; readonly madeAt: string } | null;
  readonly lines: readonly CheckLine[];
  readonly claims: readonly Claim[];
  readonly files: ReadonlyMap<string, string>;
  /** A trend is not written anew by `report`. */
  readonly again: null;
}

interface ClaimedTrend {
  readonly generator: { readonly version: string; readonly madeAt: string };
  readonly store: string;
}

/** Computes a trend record again from the history that it carries, and draws it again. */
export async function checkTrend(
  kind: "html" | "pdf",
  bytes: Uint8Array,
  seal: CheckLine,
  { claimed, inputs, holds }: TrendReading,
  means: CheckMeans,
): Promise<TrendCheck> {
  const trend = claimed as ClaimedTrend | null;
  const madeBy = trend?.generator ?? null;
  const lines: CheckLine[] = [seal];
  const found = (claims: readonly Claim[] = []): TrendCheck => ({
    madeBy,
    lines,
    claims,
    files: new Map(inputs === null ? [] : [["history.json", inputs.historyText]]),
    again: null,
  });
  if (trend === null || madeBy === null) {
    lines.push({ what: "busdip-trend", state: "changed", detail: "the carried trend cannot be read any more" });
    return found();
  }
  if (inputs === null) {
    lines.push(
      holds
        ? { what: "history.json", state: "not checked", detail: "not carried, so the trend cannot be computed again" }
        : { what: "history.json", state: "changed", detail: "it cannot be read any more" },
    );
    return found();
  }
  lines.push(
    holds
      ? { what: "history.json", state: "holds", detail: "as its SHA-256 beside it says" }
      : { what: "history.json", state: "changed", detail: "its SHA-256 is not the one beside it" },
  );
  try {
    const again = await judgedAgain(inputs, trend);
    const claims = compareResults(trend, JSON.parse(JSON.stringify(trendJson(again.claimed, again.context))));
    const maker = { version: madeBy.version, judgementSha256: inputs.judgementSha256 };
    lines.push(...softwareLines(maker, means), ...numberLines(claims, isMaker(maker, means)));
    lines.push(...(await drawingLines(kind, bytes, [maker], means, drawingOf(again, inputs))));
    return found(claims);
  } catch (error) {
    if (!(error instanceof InputError || error instanceof StoreError || error instanceof RangeError)) throw error;
    lines.push({ what: "result", state: "changed", detail: `it cannot be computed again: ${error.message}` });
    return found();
  }
}

/** A trend judged again. */
interface JudgedAgain {
  /** The one battery asked for; null for the fleet. */
  readonly one: BatteryStory | null;
  readonly stories: readonly BatteryStory[];
  /** Those that the record states in numbers. */
  readonly claimed: readonly BatteryStory[];
  readonly context: TrendContext;
}

/** Judges the carried history, which goes through a store of its own for that long. */
async function judgedAgain(inputs: TrendInputs, claimed: ClaimedTrend): Promise<JudgedAgain> {
  const folder = await mkdtemp(join(tmpdir(), "busdip-trend-"));
  const history = openHistory({ kind: "file", path: join(folder, "history.db") }, { make: true });
  try {
    history.addAll(readHistoryJson(inputs.historyText, "history.json"));
    const wishes = inputs.wishes as TrendWishes;
    const nowS = Date.parse(claimed.generator.madeAt) / 1000;
    const one = inputs.battery === null ? null : batteryStory(history, inputs.battery, wishes, nowS);
    if (inputs.battery !== null && one === null) {
      throw new InputError({
        problem: "the carried history does not hold the battery",
        remedy: "make the record again",
      });
    }
    const stories = one === null ? fleetStories(history, wishes, nowS) : [one];
    const context = {
      store: claimed.store,
      madeAt: claimed.generator.madeAt,
      softwareVersion: claimed.generator.version,
      fleetKnown: scatterOfFleet(history, wishes) !== null,
      reportHref: ({ hash }: { readonly hash: string }) => inputs.links[hash] ?? null,
    };
    return { one, stories, claimed: one === null ? concernedStories(stories) : stories, context };
  } finally {
    history.close();
    await rm(folder, { recursive: true, force: true });
  }
}

function drawingOf({ one, stories, context }: JudgedAgain, inputs: TrendInputs): Drawing {
  return {
    html: (plotlySource) => {
      const whole = { ...context, plotlySource, inputs };
      return sealedTrend(one === null ? renderFleetReport(stories, whole) : renderTrendReport(one, whole));
    },
    pdf: async (fonts, paper) => {
      const { renderFleetPdf, renderTrendPdf } = await import("../report/trend-pdf.js");
      const whole = { ...context, fonts, paper, inputs };
      return await (one === null ? renderFleetPdf(stories, whole) : renderTrendPdf(one, whole));
    },
  };
}
