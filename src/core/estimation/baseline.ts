import { firstAtOrAfter } from "../detection/switching-template.js";
import { power, squared } from "../statistics/portable-power.js";

/** Straight line through the readings before a step. */
export interface Baseline {
  /** Level at the reference time. */
  readonly level: number;
  readonly slope: number;
  readonly uLevel: number;
  readonly uSlope: number;
  /** Covariance of level and slope. */
  readonly covariance: number;
  /** How many readings it rests on. */
  readonly count: number;
}

/** Readings older than this are left out, but for the last {@link FEWEST}. */
const WINDOW_S = 30;
const FEWEST = 4;
/** Standard deviation of a battery's own drift, per second and volt, before it is seen. Common practice, no source. */
const DRIFT_PER_VOLT_S = 4e-5;

/**
 * Line through the readings in `[fromS, toS]`, told at `referenceS`.
 *
 * The slope is held by a normal prior of 4e-5 of the level per second, so that two noisy readings do not make a drift.
 * Null where there is no reading.
 */
export function baselineBefore(
  timesS: Float64Array,
  values: Float64Array,
  place: { readonly fromS: number; readonly toS: number; readonly referenceS: number },
  noise: { readonly sigma: number; readonly correlationS: number },
): Baseline | null {
  const to = firstAtOrAfter(timesS, place.toS + 1e-9 * Math.max(1, Math.abs(place.toS)));
  const earliest = firstAtOrAfter(timesS, place.fromS);
  if (to <= earliest) return null;
  const from = Math.max(earliest, Math.min(firstAtOrAfter(timesS, place.toS - WINDOW_S), to - FEWEST));
  const count = to - from;
  const spanS = timesS[to - 1] - timesS[from];
  const independent = spanS > 0 ? Math.min(count, 1 + spanS / (2 * noise.correlationS)) : 1;
  const weight = independent / count / squared(noise.sigma);
  const origin = values[to - 1];
  // Normal equations of level and slope with the prior on the slope.
  let sw = 0;
  let st = 0;
  let stt = power(DRIFT_PER_VOLT_S * Math.max(Math.abs(origin), 1e-6), -2);
  let sy = 0;
  let sty = 0;
  for (let k = from; k < to; k++) {
    const t = timesS[k] - place.referenceS;
    const y = values[k] - origin;
    sw += weight;
    st += weight * t;
    stt += weight * t * t;
    sy += weight * y;
    sty += weight * t * y;
  }
  const determinant = sw * stt - st * st;
  return {
    level: origin + (stt * sy - st * sty) / determinant,
    slope: (sw * sty - st * sy) / determinant,
    uLevel: Math.sqrt(stt / determinant),
    uSlope: Math.sqrt(sw / determinant),
    covariance: -st / determinant,
    count,
  };
}
