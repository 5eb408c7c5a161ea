import { exponential } from "../statistics/portable-exponential.js";
import { type SwingingNeedle, swingAfterDecay, swingAfterStep } from "./swinging-needle.js";

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

const SUBSAMPLES = 4;
/** Time constants after which nothing is left of a decay in double precision. */
const GONE = 40;

function addDip(out: Float64Array, timesS: Float64Array, blockS: number, onTime: OnTime, shape: DipShape): void {
  const onsetS = onTime.onsetS + shape.shiftS;
  const releaseS = onTime.releaseS + shape.shiftS;
  const half = blockS / 2;
  const calmS = shape.lagS / (shape.dampingRatio ?? 1);
  const recoveryS = Math.max(calmS, shape.polarization > 0 ? shape.polarizationS : 0);
  const endS = releaseS + 12 * recoveryS + half;
  const onDuration = releaseS - onsetS;
  const lagAtRelease = lagPart(onDuration, shape);
  const polarizationAtRelease = polarizationPart(onDuration, shape);
  for (let i = firstAtOrAfter(timesS, onsetS - half); i < timesS.length && timesS[i] <= endS; i++) {
    let sum = 0;
    const count = blockS > 0 ? SUBSAMPLES : 1;
    for (let k = 0; k < count; k++) {
      const t = timesS[i] + (blockS > 0 ? ((k + 0.5) / count - 0.5) * blockS : 0) - onsetS;
      if (t <= 0) continue;
      if (t <= onDuration) sum += lagPart(t, shape) + polarizationPart(t, shape);
      else if (shape.dampingRatio === undefined) {
        sum += recovered(t - onDuration, lagAtRelease, polarizationAtRelease, shape);
      } else {
        sum += swungBack(t, onDuration, shape) + recovered(t - onDuration, 0, polarizationAtRelease, shape);
      }
    }
    out[i] -= sum / count;
  }
}

/** Response of the lagged meter to the load's own current, `t` seconds after the onset, the load still on. */
function lagPart(t: number, shape: DipShape): number {
  const { lagS, inrush, settleS, dampingRatio } = shape;
  if (dampingRatio !== undefined) return swungOut(t, settleS, inrush, { periodS: lagS, dampingRatio });
  const step = t < GONE * lagS ? 1 - exponential(-t / lagS) : 1;
  if (inrush === 0) return step;
  return step + inrush * laggedDecay(t, settleS, lagS);
}

function swungOut(t: number, settleS: number, inrush: number, needle: SwingingNeedle): number {
  return swingAfterStep(t, needle) + (inrush === 0 ? 0 : inrush * swingAfterDecay(t, settleS, needle));
}

/** A needle that swings, past the release: what goes on from the onset less what the release took away. */
function swungBack(t: number, onDuration: number, shape: DipShape): number {
  const { lagS, inrush, settleS, dampingRatio } = shape;
  // Long after the release the two are the same.
  if (dampingRatio! * (t - onDuration) > 18 * lagS) return 0;
  const needle = { periodS: lagS, dampingRatio: dampingRatio! };
  const left = inrush * exponential(-onDuration / settleS);
  return swungOut(t, settleS, inrush, needle) - swungOut(t - onDuration, settleS, left, needle);
}

/** `exp(-t / tau)` switched on at 0, seen through the lag. */
function laggedDecay(t: number, tauS: number, lagS: number): number {
  if (lagS <= 0) return exponential(-t / tauS);
  const difference = tauS - lagS;
  if (Math.abs(difference) < 1e-6 * tauS) return (t / lagS) * exponential(-t / lagS);
  return (tauS / difference) * (exponential(-t / tauS) - exponential(-t / lagS));
}

/** The lag is left out here: polarisation is slow against any meter. */
function polarizationPart(t: number, shape: DipShape): number {
  return shape.polarization === 0 ? 0 : shape.polarization * (1 - exponential(-t / shape.polarizationS));
}

function recovered(sinceS: number, lagAtRelease: number, polarizationAtRelease: number, shape: DipShape): number {
  const lagged = sinceS < GONE * shape.lagS ? lagAtRelease * exponential(-sinceS / shape.lagS) : 0;
  return (
    lagged + (polarizationAtRelease === 0 ? 0 : polarizationAtRelease * exponential(-sinceS / shape.polarizationS))
  );
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
