import { exponential } from "../statistics/portable-exponential.js";
import { type DecayingTerm, subtractStretch, termsAt, termsFrom } from "./decaying-response.js";
import { swingTerms } from "./swinging-needle.js";

/** One on-time of a load, seconds; `onsetS < releaseS`. */
export interface OnTime {
  readonly onsetS: number;
  readonly releaseS: number;
}

/**
 * Shape of a dip of unit settled depth.
 *
 * While the load is on its current is `1 + inrush exp(-t / settleS)` of the settled one (a heater starts cold), the
 * battery adds `polarization (1 - exp(-t / polarizationS))`, and the meter follows with the time constant `lagS`, or swings.
 * `shiftS` moves all the marks together.
 */
export interface DipShape {
  readonly shiftS: number;
  readonly lagS: number;
  readonly inrush: number;
  readonly settleS: number;
  readonly polarization: number;
  readonly polarizationS: number;
  /** Damping ratio of a needle that swings; `lagS` is then one over its natural angular frequency. Left out: it creeps. */
  readonly dampingRatio?: number;
}

/**
 * Readings that a load of unit settled depth would make: minus 1 where it pulls the voltage down.
 *
 * Each reading is the mean over the `blockS` seconds around its time (0 for an instant). The current during the dip is
 * a sum of exponentials; the lag turns each into a difference of two, and past the release all of them decay.
 */
export function dipTemplate(
  timesS: Float64Array,
  blockS: number,
  onTimes: readonly OnTime[],
  shape: DipShape,
): Float64Array {
  const out = new Float64Array(timesS.length);
  for (const onTime of onTimes) addDip(out, timesS, blockS, onTime, shape);
  return out;
}

/** Time constants of the recovery after which the dip is taken to be over. */
const OVER = 12;

function addDip(out: Float64Array, timesS: Float64Array, blockS: number, onTime: OnTime, shape: DipShape): void {
  const startS = onTime.onsetS + shape.shiftS;
  const endS = onTime.releaseS + shape.shiftS;
  const onS = endS - startS;
  const { polarization, polarizationS } = shape;
  const decay = { rate: 1 / polarizationS, angular: 0, inPhase: -polarization, quadrature: 0 };
  const needle = needleTerms(shape, shape.inrush);
  subtractStretch(out, timesS, blockS, {
    startS,
    endS,
    constant: 1 + polarization,
    terms: polarization === 0 ? needle : [...needle, decay],
  });
  const calmS = shape.lagS / (shape.dampingRatio ?? 1);
  const recoveryS = Math.max(calmS, polarization > 0 ? polarizationS : 0);
  const left = { ...decay, inPhase: polarization * (1 - exponential(-onS / polarizationS)) };
  subtractStretch(out, timesS, blockS, {
    startS: endS,
    endS: endS + OVER * recoveryS,
    constant: 0,
    terms: [...recoveryTerms(needle, onS, shape), left],
  });
}

/** Decaying terms of the meter's response to a current of `1 + inrush exp(-t / settleS)` from 0 on; the constant is 1. */
function needleTerms({ lagS, settleS, dampingRatio }: DipShape, inrush: number): DecayingTerm[] {
  if (dampingRatio !== undefined) return swingTerms({ periodS: lagS, dampingRatio }, settleS, inrush);
  const settling = { rate: 1 / settleS, angular: 0, quadrature: 0 };
  if (lagS <= 0) return [{ ...settling, inPhase: inrush }];
  // As long as each other the two decays would be divided by nothing.
  const ownS = Math.abs(settleS - lagS) < ALIKE * settleS ? (1 - ALIKE) * settleS : lagS;
  const inPhase = inrush * (settleS / (settleS - ownS));
  return [
    { ...settling, inPhase },
    { rate: 1 / ownS, angular: 0, inPhase: -1 - inPhase, quadrature: 0 },
  ];
}

const ALIKE = 1e-5;

/** What is left of the meter's own part after the release, `onS` seconds after the onset. */
function recoveryTerms(needle: readonly DecayingTerm[], onS: number, shape: DipShape): DecayingTerm[] {
  if (shape.dampingRatio === undefined) {
    if (shape.lagS <= 0) return [];
    return [{ rate: 1 / shape.lagS, angular: 0, inPhase: 1 + termsAt(needle, onS), quadrature: 0 }];
  }
  // What goes on from the onset less what the release took away: the constants and the settling cancel.
  const gone = needleTerms(shape, shape.inrush * exponential(-onS / shape.settleS));
  const [swing] = termsFrom(needle.slice(1), onS);
  return [{ ...swing, inPhase: swing.inPhase - gone[1].inPhase, quadrature: swing.quadrature - gone[1].quadrature }];
}

/** First index whose time is at or after `timeS`; the length when there is none. */
export function firstAtOrAfter(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle] < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}
