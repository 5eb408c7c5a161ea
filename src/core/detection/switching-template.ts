import { exponential } from "../statistics/portable-exponential.js";
import { type DecayingTerm, subtractStretch, termsFrom } from "./decaying-response.js";
import { creepTerms, type DecayingInput, swingTerms } from "./needle-response.js";

/** One on-time of a load, seconds; `onsetS < releaseS`. */
export interface OnTime {
  readonly onsetS: number;
  readonly releaseS: number;
  /** False where no mark says when the load went off, so that `releaseS` is the recording's end. */
  readonly isReleaseTold?: false;
}

/**
 * Shape of a dip of unit settled depth.
 *
 * While the load is on its current is `1 + inrush exp(-t / settleS)` of the settled one (a heater starts cold). The
 * battery falls by that and by its polarisation, one RC part of `polarization` times the ohmic resistance and time constant
 * `polarizationS`, through which the same current runs; the meter follows both with the time constant `lagS`, or swings.
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

/** A dip with square edges but for the meter's lag: its two time constants have nothing to settle. */
export function plainShape(lagS: number): DipShape {
  return { shiftS: 0, lagS, inrush: 0, settleS: 1, polarization: 0, polarizationS: 1 };
}

/**
 * Readings that a load of unit settled depth would make: minus 1 where it pulls the voltage down.
 *
 * Each reading is the mean over the `blockS` seconds around its time (0 for an instant). Current, polarisation and meter
 * are linear, so that each part of the dip is a sum of exponentials: exact at any time between readings.
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
  const on = responseTerms(shape, shape.inrush);
  const constant = 1 + shape.polarization;
  subtractStretch(out, timesS, blockS, { startS, endS, constant, terms: [on.settling, ...on.own] });
  // What goes on from the onset, less what the release takes away: constants and settling cancel.
  const gone = responseTerms(shape, shape.inrush * exponential(-onS / shape.settleS)).own;
  const left = termsFrom(on.own, onS).map((term, k) => ({
    ...term,
    inPhase: term.inPhase - gone[k].inPhase,
    quadrature: term.quadrature - gone[k].quadrature,
  }));
  const calmS = shape.lagS / (shape.dampingRatio ?? 1);
  const recoveryS = Math.max(calmS, shape.polarization > 0 ? shape.polarizationS : 0);
  subtractStretch(out, timesS, blockS, { startS: endS, endS: endS + OVER * recoveryS, constant: 0, terms: left });
}

/** Response to a current of `1 + inrush exp(-t / settleS)` from 0 on; its constant is 1 and the polarisation. */
interface ResponseTerms {
  /** Dies down with the current. */
  readonly settling: DecayingTerm;
  /** Die down by themselves: polarisation where there is any, and needle. */
  readonly own: readonly DecayingTerm[];
}

function responseTerms(shape: DipShape, inrush: number): ResponseTerms {
  const { lagS, dampingRatio, polarization, settleS } = shape;
  const polarizationS = apart(shape.polarizationS, settleS);
  const share = settleS / (settleS - polarizationS);
  const settling = { rate: 1 / settleS, size: inrush * (1 + polarization * share) };
  const polarizing = { rate: 1 / polarizationS, size: -polarization * (1 + inrush * share) };
  const inputs: readonly DecayingInput[] = polarization === 0 ? [settling] : [settling, polarizing];
  const constant = 1 + polarization;
  const [first, ...own] =
    dampingRatio === undefined
      ? creepTerms(
          inputs.reduce((ownS, { rate }) => apart(ownS, 1 / rate), lagS),
          constant,
          inputs,
        )
      : swingTerms({ periodS: lagS, dampingRatio }, constant, inputs);
  return { settling: first, own };
}

/** Time constants nearer to each other than this share would be divided by nothing. */
const ALIKE = 1e-5;

function apart(ownS: number, otherS: number): number {
  return Math.abs(otherS - ownS) < ALIKE * otherS ? (1 - ALIKE) * otherS : ownS;
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
