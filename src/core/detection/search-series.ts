import type { Recording } from "../series/recording.js";
import { medianIntervalS, readingWeights, type WorkingSeries, workingSeries } from "../series/working-series.js";

/** Readings slower than this cannot show a switching of a few seconds. */
const SLOWEST_S = 2;
const MOST_SEARCHED = 100_000;

/** The whole recording as blocks of a tenth of a second or wider; null where it cannot show a switching at all. */
export function searchSeries(recording: Recording, displayStepV: number | null): WorkingSeries | null {
  const { timesS, voltagesV } = recording;
  const n = timesS.length;
  const intervalS = medianIntervalS(timesS);
  const spanS = timesS[n - 1] - timesS[0];
  if (n < 40 || intervalS > SLOWEST_S || spanS < 8) return null;
  const blockS = Math.max(intervalS < 0.07 ? 0.1 : 0, n > MOST_SEARCHED ? spanS / MOST_SEARCHED : 0);
  if (blockS > 1) return null;
  const weights = readingWeights(recording.readingUncertaintiesV);
  return workingSeries(timesS, voltagesV, { start: 0, end: n }, blockS, displayStepV, weights);
}
