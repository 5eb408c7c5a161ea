import { firstAtOrAfter } from "../detection/switching-template.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/** Level of a series at a stated time, from the readings around it. */
export interface LevelAt {
  readonly level: number;
  /** Change of the level per second. */
  readonly slope: number;
  /** Standard uncertainty from noise as a multiple of the noise of one reading. */
  readonly noiseFactor: number;
}

/** Share of the time since the step within which readings on either side are averaged. */
const AVERAGED_SHARE = 0.25;

/**
 * Level at `originS + atS` from readings that lie after the step and before `endS`; null where they are too far apart.
 *
 * A straight line through the readings within a quarter of `atS`, or between the two neighbours, which may not be
 * farther apart than `atS`. `correlationS` is the correlation time of the noise.
 */
export function levelAt(
  timesS: Float64Array,
  values: Float64Array,
  place: { readonly originS: number; readonly atS: number; readonly startS: number; readonly endS: number },
  correlationS: number,
): LevelAt | null {
  const targetS = place.originS + place.atS;
  const tolerance = 1e-9 * Math.max(1, Math.abs(targetS));
  const startS = Math.max(place.startS, targetS - AVERAGED_SHARE * place.atS) - tolerance;
  const endS = Math.min(place.endS, targetS + AVERAGED_SHARE * place.atS) + tolerance;
  const from = firstAtOrAfter(timesS, startS);
  const to = firstAtOrAfter(timesS, endS);
  if (to - from >= 3 && timesS[from] <= targetS && timesS[to - 1] >= targetS) {
    return line(timesS, values, from, to, targetS, correlationS);
  }
  const above = firstAtOrAfter(timesS, targetS - tolerance);
  if (above >= timesS.length || timesS[above] > place.endS + tolerance) return null;
  if (timesS[above] <= targetS + tolerance) return atReading(timesS, values, above, place.startS);
  const below = above - 1;
  if (below < 0 || timesS[below] < place.startS - tolerance) return null;
  const gap = timesS[above] - timesS[below];
  if (gap > place.atS + tolerance) return null;
  const share = (targetS - timesS[below]) / gap;
  return {
    level: values[below] + share * (values[above] - values[below]),
    slope: (values[above] - values[below]) / gap,
    noiseFactor: rootSumSquares(1 - share, share),
  };
}

function atReading(timesS: Float64Array, values: Float64Array, k: number, startS: number): LevelAt {
  const other = k + 1 < timesS.length ? k + 1 : k - 1;
  const usable = other > k || timesS[other] >= startS;
  const slope = usable ? (values[other] - values[k]) / (timesS[other] - timesS[k]) : 0;
  return { level: values[k], slope, noiseFactor: 1 };
}

function line(
  timesS: Float64Array,
  values: Float64Array,
  from: number,
  to: number,
  targetS: number,
  correlationS: number,
): LevelAt {
  const count = to - from;
  let middleS = 0;
  let mean = 0;
  for (let k = from; k < to; k++) {
    middleS += (timesS[k] - targetS) / count;
    mean += values[k] / count;
  }
  let products = 0;
  let squares = 0;
  for (let k = from; k < to; k++) {
    const away = timesS[k] - targetS - middleS;
    products += away * (values[k] - mean);
    squares += away * away;
  }
  const spanS = timesS[to - 1] - timesS[from];
  // Readings that all bear one stamp tell a level and no slope.
  if (!(spanS > 0)) return { level: mean, slope: 0, noiseFactor: 1 };
  const slope = products / squares;
  const independent = Math.min(count, 1 + spanS / (2 * correlationS));
  return {
    level: mean - slope * middleS,
    slope,
    noiseFactor: Math.sqrt((1 / count + squared(middleS) / squares) * (count / independent)),
  };
}
