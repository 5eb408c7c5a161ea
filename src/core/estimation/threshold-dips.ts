import { exponentialLessOne, logarithm } from "../statistics/portable-exponential.js";

/** A dip as power-quality meters count it. */
export interface ThresholdDip {
  readonly onsetS: number;
  /** First reading at or above threshold plus hysteresis; null where the readings end first. */
  readonly releaseS: number | null;
  /** Lowest reading during the dip. */
  readonly residualV: number;
}

/**
 * Dips below a threshold: each begins with the first reading below it and ends with the first one at or above threshold
 * plus hysteresis.
 *
 * For dips that stand clear of the noise; fainter ones need the fitted depth.
 * Source: IEC 61000-4-30, voltage dips (from secondary pages), with readings in place of half-cycle values.
 */
export function thresholdDips(
  timesS: Float64Array,
  voltagesV: Float64Array,
  limits: { readonly thresholdV: number; readonly hysteresisV: number },
): ThresholdDip[] {
  const dips: ThresholdDip[] = [];
  let onsetS: number | null = null;
  let residualV = Number.POSITIVE_INFINITY;
  for (let k = 0; k < timesS.length; k++) {
    const reading = voltagesV[k];
    if (onsetS === null) {
      if (reading >= limits.thresholdV) continue;
      onsetS = timesS[k];
      residualV = reading;
    } else if (reading >= limits.thresholdV + limits.hysteresisV) {
      dips.push({ onsetS, releaseS: timesS[k], residualV });
      onsetS = null;
    } else residualV = Math.min(residualV, reading);
  }
  if (onsetS !== null) dips.push({ onsetS, releaseS: null, residualV });
  return dips;
}

/** Weight of a new value every 0.2 s in the sliding reference voltage (from memory). */
const REFERENCE_WEIGHT = 0.0033;
const REFERENCE_INTERVAL_S = 0.2;
/** The same as a time constant: 60.5 s, the "one minute" of the standard. */
export const REFERENCE_TIME_S = -REFERENCE_INTERVAL_S / logarithm(1 - REFERENCE_WEIGHT);

/**
 * Sliding reference voltage: a first-order low-pass of one minute that stands still while `inDip` says so.
 *
 * Source: IEC 61000-4-30, sliding reference (weights from memory), for readings at any interval.
 */
export function slidingReference(
  timesS: Float64Array,
  voltagesV: Float64Array,
  inDip: (index: number) => boolean,
): Float64Array {
  const reference = new Float64Array(voltagesV.length);
  reference[0] = voltagesV[0];
  for (let k = 1; k < voltagesV.length; k++) {
    const share = inDip(k) ? 0 : -exponentialLessOne(-(timesS[k] - timesS[k - 1]) / REFERENCE_TIME_S);
    reference[k] = reference[k - 1] + share * (voltagesV[k] - reference[k - 1]);
  }
  return reference;
}
