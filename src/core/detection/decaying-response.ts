import { cosine, sine } from "../statistics/portable-angle.js";
import { exponential } from "../statistics/portable-exponential.js";

/**
 * One term of a response: `exp(-rate t) (inPhase cos(angular t) + quadrature sin(angular t))`, `t` seconds after the start of its
 * stretch; `rate` and `angular` per second.
 */
export interface DecayingTerm {
  readonly rate: number;
  readonly angular: number;
  readonly inPhase: number;
  readonly quadrature: number;
}

/** A constant and decaying terms from `startS` to `endS`, seconds; nothing outside. */
export interface Stretch {
  readonly startS: number;
  readonly endS: number;
  readonly constant: number;
  readonly terms: readonly DecayingTerm[];
}

/** Terms of a stretch as seen from `t` seconds after its start. */
export function termsFrom(terms: readonly DecayingTerm[], t: number): DecayingTerm[] {
  return terms.map(({ rate, angular, inPhase, quadrature }) => {
    const left = exponential(-rate * t);
    const c = left * cosine(angular * t);
    const s = left * sine(angular * t);
    return { rate, angular, inPhase: inPhase * c + quadrature * s, quadrature: quadrature * c - inPhase * s };
  });
}

/** Decay times after which nothing is left in double precision. */
const GONE = 40;
/** Change of the step between readings, in decay times, up to which its decay is corrected and not computed anew. */
const ALIKE = 1e-4;

/**
 * Takes the stretch off every reading; each reading is the mean over the `blockS` seconds around its time (0 for an
 * instant).
 *
 * The mean of an exponential over a block is the exponential at its middle times `sinh(q h / 2) / (q h / 2)`; from one
 * reading to the next it is multiplied and not computed anew. Blocks that hold an end of the stretch are integrated over
 * their part of it.
 */
export function subtractStretch(out: Float64Array, timesS: Float64Array, blockS: number, stretch: Stretch): void {
  const { startS, endS, constant, terms } = stretch;
  const half = blockS / 2;
  if (blockS <= 0) {
    const from = firstAfter(timesS, startS);
    const to = firstAfter(timesS, endS);
    for (let i = from; i < to; i++) out[i] -= constant;
    for (const term of terms) subtractTerm(out, timesS, { from, to }, startS, term);
    return;
  }
  const first = firstAfter(timesS, startS - half);
  const from = firstAfter(timesS, startS + half);
  const to = Math.max(from, firstAfter(timesS, endS - half));
  const last = Math.max(to, firstAfter(timesS, endS + half));
  const subtractPart = (i: number) => {
    const low = Math.max(timesS[i] - half, startS) - startS;
    const high = Math.min(timesS[i] + half, endS) - startS;
    if (high > low) out[i] -= (constant * (high - low) + integral(terms, low, high)) / blockS;
  };
  for (let i = first; i < from; i++) subtractPart(i);
  for (let i = from; i < to; i++) out[i] -= constant;
  for (const term of terms) subtractTerm(out, timesS, { from, to }, startS, meanOverBlock(term, half));
  for (let i = to; i < last; i++) subtractPart(i);
}

function subtractTerm(
  out: Float64Array,
  timesS: Float64Array,
  { from, to }: { readonly from: number; readonly to: number },
  startS: number,
  { rate, angular, inPhase, quadrature }: DecayingTerm,
): void {
  if (inPhase === 0 && quadrature === 0) return;
  const goneS = startS + GONE / rate;
  const swift = rate + angular;
  let re = 1;
  let im = 0;
  let earlierS = startS;
  let stepS = Number.NaN;
  let stepRe = 1;
  let stepIm = 0;
  for (let i = from; i < to && timesS[i] <= goneS; i++) {
    const nextS = timesS[i] - earlierS;
    earlierS = timesS[i];
    if (!(Math.abs(nextS - stepS) * swift < ALIKE)) {
      stepS = nextS;
      const size = exponential(-rate * nextS);
      stepRe = angular === 0 ? size : size * cosine(angular * nextS);
      stepIm = angular === 0 ? 0 : size * sine(angular * nextS);
    }
    // exp(q d) to the second order in what the step differs by.
    const a = -rate * (nextS - stepS);
    const b = angular * (nextS - stepS);
    const changeRe = 1 + a + (a * a - b * b) / 2;
    const changeIm = b + a * b;
    const factorRe = stepRe * changeRe - stepIm * changeIm;
    const factorIm = stepRe * changeIm + stepIm * changeRe;
    const before = re;
    re = before * factorRe - im * factorIm;
    im = before * factorIm + im * factorRe;
    out[i] -= inPhase * re + quadrature * im;
  }
}

/** The term whose value in the middle of a block is the mean of the given one over it. */
function meanOverBlock(term: DecayingTerm, half: number): DecayingTerm {
  const x = term.rate * half;
  const y = term.angular * half;
  // A term that is gone within its first block.
  if (x > 300) return { ...term, inPhase: 0, quadrature: 0 };
  let re = 1 + (x * x - y * y) / 6;
  let im = (-2 * x * y) / 6;
  if (x * x + y * y > 1e-6) {
    // sinh(q) / q for q = -x + i y.
    const up = exponential(x);
    const sinhRe = (-(up - 1 / up) / 2) * cosine(y);
    const sinhIm = ((up + 1 / up) / 2) * sine(y);
    const square = x * x + y * y;
    re = (-sinhRe * x + sinhIm * y) / square;
    im = (-sinhIm * x - sinhRe * y) / square;
  }
  const { inPhase, quadrature } = term;
  return { ...term, inPhase: inPhase * re + quadrature * im, quadrature: quadrature * re - inPhase * im };
}

/** Integral of the terms from `low` to `high` seconds after their start. */
function integral(terms: readonly DecayingTerm[], low: number, high: number): number {
  let sum = 0;
  for (const { rate, angular, inPhase, quadrature } of terms) {
    if (inPhase === 0 && quadrature === 0) continue;
    const square = rate * rate + angular * angular;
    const antiderivative = (t: number) => {
      const c = cosine(angular * t);
      const s = sine(angular * t);
      const even = inPhase * c + quadrature * s;
      const odd = quadrature * c - inPhase * s;
      return (exponential(-rate * t) * (-rate * even - angular * odd)) / square;
    };
    sum += antiderivative(high) - antiderivative(low);
  }
  return sum;
}

/** First index whose time is after `timeS`; the length when there is none. */
function firstAfter(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle] <= timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}
