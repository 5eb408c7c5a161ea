import { exponential, exponentialLessOne } from "../statistics/portable-exponential.js";

/** A level of the current that holds from `timeS` until the next one; zero before the first. */
export interface CurrentLevel {
  readonly timeS: number;
  readonly currentA: number;
}

/**
 * Voltage per ohm across a resistor and across resistor-capacitor pairs of the given time constants, seen through a
 * first-order meter lag, at the reading times (ascending).
 *
 * Row-major: resistor, then one column per time constant. Sums of decaying exponentials carried from reading to reading,
 * so that the cost is readings plus levels.
 */
export function relaxationColumns(
  timesS: Float64Array,
  levels: readonly CurrentLevel[],
  timeConstantsS: ArrayLike<number>,
  lagS: number,
): Float64Array {
  const pairCount = timeConstantsS.length;
  const width = pairCount + 1;
  const out = new Float64Array(timesS.length * width);
  // Decays[0] belongs to the lag, the others to the pairs.
  const constants = [lagS, ...Array.from(timeConstantsS, (tau) => apartFrom(tau, lagS))];
  const decays = new Float64Array(width);
  let currentA = 0;
  let nowS = levels.length > 0 ? levels[0].timeS : 0;
  let next = 0;
  const advance = (toS: number) => {
    for (let k = 0; k < width; k++) decays[k] *= constants[k] > 0 ? exponential(-(toS - nowS) / constants[k]) : 0;
    nowS = toS;
  };
  for (let i = 0; i < timesS.length; i++) {
    while (next < levels.length && levels[next].timeS <= timesS[i]) {
      advance(levels[next].timeS);
      const change = levels[next].currentA - currentA;
      for (let k = 0; k < width; k++) decays[k] += constants[k] > 0 ? change : 0;
      currentA = levels[next].currentA;
      next += 1;
    }
    if (next > 0) advance(timesS[i]);
    out[i * width] = currentA - decays[0];
    for (let k = 1; k < width; k++) {
      const tau = constants[k];
      out[i * width + k] = currentA - (tau * decays[k] - lagS * decays[0]) / (tau - lagS);
    }
  }
  return out;
}

/** The two exponentials may not fall together; a hair apart they give the limit to eight digits. */
function apartFrom(tau: number, lagS: number): number {
  return Math.abs(tau - lagS) < 1e-6 * lagS ? lagS * (1 + 1e-6) : tau;
}

/** Resistance that a step shows `atS` seconds after it, as weights of the same columns. */
export function stepWeights(atS: number, timeConstantsS: ArrayLike<number>): Float64Array {
  return Float64Array.from([1, ...Array.from(timeConstantsS, (tau) => -exponentialLessOne(-atS / tau))]);
}
