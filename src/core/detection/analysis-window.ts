import type { Recording } from "../series/recording.js";
import {
  type IndexRange,
  medianIntervalS,
  readingWeights,
  type WorkingSeries,
  workingSeries,
} from "../series/working-series.js";
import { firstAtOrAfter, type OnTime } from "./switching-template.js";

/** On-times of one load that follow each other closely; a load switched again much later has several parts. */
export interface LoadPart {
  /** Index into the list of loads. */
  readonly loadIndex: number;
  readonly onTimes: readonly OnTime[];
}

/** Parts that stand close enough together to be judged in one stretch of the recording. */
export interface AnalysisWindow {
  readonly range: IndexRange;
  readonly blockS: number;
  readonly parts: readonly LoadPart[];
}

/** Quiet seconds kept before and after the switchings, for the noise and the drift. */
const MARGIN_S = 60;
/** Most blocks in one window; wider blocks beyond. */
const MOST_BLOCKS = 2500;
/** Readings faster than this are averaged in blocks of 0.1 s: a loss below 0.03 dB. */
const FASTEST_S = 0.07;

/** Most readings that are kept apart for the sake of a coarse display. */
const MOST_SINGLE = 5000;

/** Pause after which the switching of a load counts as taken up anew. */
const NEW_PART_S = 120;

/**
 * Groups the loads' on-times into stretches, each with its margin and its block width.
 *
 * `singly` keeps fast readings apart as long as they are not too many: digits cannot be judged by their means.
 */
export function analysisWindows(
  timesS: Float64Array,
  loads: readonly { readonly onTimes: readonly OnTime[] }[],
  singly = false,
): readonly AnalysisWindow[] {
  const spans = loads
    .flatMap(({ onTimes }, loadIndex) => partsOf(onTimes).map((part) => ({ loadIndex, onTimes: part })))
    .map((part) => ({
      part,
      startS: part.onTimes[0].onsetS - MARGIN_S,
      endS: part.onTimes[part.onTimes.length - 1].releaseS + MARGIN_S,
      shortestS: Math.min(...part.onTimes.map(({ onsetS, releaseS }) => releaseS - onsetS)),
    }))
    .sort((a, b) => a.startS - b.startS);
  const groups: (typeof spans)[] = [];
  let endS = Number.NEGATIVE_INFINITY;
  for (const span of spans) {
    // Margins may overlap; a switching in the margin of another one must be judged with it.
    if (groups.length === 0 || span.startS > endS - MARGIN_S) groups.push([span]);
    else groups[groups.length - 1].push(span);
    endS = Math.max(endS, span.endS);
  }
  return groups.map((group) => {
    const start = firstAtOrAfter(timesS, Math.min(...group.map((span) => span.startS)));
    const end = firstAtOrAfter(timesS, Math.max(...group.map((span) => span.endS)));
    const range = { start, end };
    const shortestS = Math.min(...group.map((span) => span.shortestS));
    return { range, blockS: blockWidthS(timesS, range, shortestS, singly), parts: group.map(({ part }) => part) };
  });
}

function partsOf(onTimes: readonly OnTime[]): OnTime[][] {
  const parts: OnTime[][] = [];
  for (const onTime of [...onTimes].sort((a, b) => a.onsetS - b.onsetS)) {
    const last = parts[parts.length - 1];
    if (last !== undefined && onTime.onsetS - last[last.length - 1].releaseS <= NEW_PART_S) last.push(onTime);
    else parts.push([onTime]);
  }
  return parts;
}

function blockWidthS(timesS: Float64Array, range: IndexRange, shortestS: number, singly: boolean): number {
  const count = range.end - range.start;
  if (count < 2) return 0;
  const spanS = timesS[range.end - 1] - timesS[range.start];
  if (singly && count <= MOST_SINGLE) return 0;
  const needed = medianIntervalS(timesS, range) < FASTEST_S ? 0.1 : 0;
  const affordable = count > MOST_BLOCKS ? spanS / MOST_BLOCKS : 0;
  return Math.min(Math.max(needed, affordable), Math.max(shortestS / 6, 0.02));
}

/** The readings of one window, ready for judging. */
export function windowSeries(recording: Recording, window: AnalysisWindow, displayStepV: number | null): WorkingSeries {
  const weights = readingWeights(recording.readingUncertaintiesV);
  return workingSeries(recording.timesS, recording.voltagesV, window.range, window.blockS, displayStepV, weights);
}
