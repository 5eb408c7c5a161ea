import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { openHistory, readHistoryJson, StoreError } from "../history/index.js";
import { InputError } from "../importers/input-error.js";
import { renderFleetReport, renderTrendReport } from "../report/index.js";
import { withoutSeal } from "../report/seal.js";
import { readEmbeddedTrend, type TrendInputs, type TrendReading } from "../report/trend-record.js";
import { batteryStory, fleetStories, scatterOfFleet, type TrendWishes } from "./trend-stories.js";
import type { CheckLine, CheckMeans } from "./verify-line.js";
import { type Claim, compareResults, numberLines } from "./verify-numbers.js";
import { compareHtml } from "./verify-text.js";

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

/** Computes a trend record again from the history that it carries, and draws its page again. */
export async function checkTrend(
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
    const due = await trendPage(inputs, trend, await means.plotlySource());
    const claims = compareResults(trend, readEmbeddedTrend(due)!.claimed!);
    lines.push(...numberLines(claims), ...pageLines(bytes, due, madeBy.version, means));
    return found(claims);
  } catch (error) {
    if (!(error instanceof InputError || error instanceof StoreError || error instanceof RangeError)) throw error;
    lines.push({ what: "result", state: "changed", detail: `it cannot be computed again: ${error.message}` });
    return found();
  }
}

/** The page drawn from the carried history, which goes through a history of its own for that long. */
async function trendPage(inputs: TrendInputs, claimed: ClaimedTrend, plotlySource: string): Promise<string> {
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
      plotlySource,
      inputs,
    };
    return one === null ? renderFleetReport(stories, context) : renderTrendReport(one, context);
  } finally {
    history.close();
    await rm(folder, { recursive: true, force: true });
  }
}

function pageLines(bytes: Uint8Array, due: string, version: string, means: CheckMeans): CheckLine[] {
  const what = "text and figures";
  if (version !== means.softwareVersion) {
    const detail = `made by version ${version}; this is ${means.softwareVersion}, which may draw otherwise`;
    return [{ what, state: "not checked", detail }];
  }
  const { differences, sameLibrary } = compareHtml(new TextDecoder().decode(withoutSeal(bytes, "html")), due);
  const lines: CheckLine[] = differences.map(({ line, found, due: expected }) => ({
    what,
    state: "changed",
    detail: `line ${line} says '${found}', by the data it must say '${expected}'`,
  }));
  if (!sameLibrary) lines.push({ what: "plotting library", state: "changed", detail: "not the one installed here" });
  if (lines.length > 0) return lines;
  return [{ what, state: "holds", detail: "drawn again from the history, all the same" }];
}
