import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { type OffsetFound, OffsetPosterior, STRAY, type WeightedLag } from "./offset-posterior.js";
import { type StepWindow, stepResiduals } from "./step-time-likelihood.js";

/** One step seen by both instruments. */
export interface SharedStep {
  /** About when the current stepped, on its own clock, s. */
  readonly currentS: number;
  readonly voltage: StepWindow;
  readonly current: StepWindow;
}

/** Noise of the readings around the steps. */
export interface StepNoise {
  readonly sigmaV: number;
  readonly sigmaA: number;
  readonly correlationV: number;
  readonly voltageIntervalS: number;
  readonly currentIntervalS: number;
}

/** Where the offset is searched: `centreS` plus or minus `halfWidthS`, on a grid of `stepS`. */
export interface OffsetSearch {
  readonly centreS: number;
  readonly halfWidthS: number;
  readonly stepS: number;
  /** Lags tried, with their prior weights. */
  readonly voltageLags: readonly WeightedLag[];
  readonly currentLags: readonly WeightedLag[];
  /** Largest difference of the two clocks' rates, as a fraction. */
  readonly largestRate: number;
}

/** Steps times rates up to which a common phase is looked into; over longer times clocks drift out of phase anyway. */
const MOST_COMMON = 100;
/** The current may have stepped this much before its readings show it, besides three of its intervals. */
const HIDDEN_S = 0.6;

/**
 * Offset between two clocks from steps seen by both, with the lags of both instruments fitted together with it.
 *
 * The likelihood of every step's time is taken from each series by itself and summed over the time, so a step between
 * two readings counts as anywhere between them; offset, rate and lags then share out what the steps tell, with even
 * prior weights, and the lags and the rate are summed over.
 */
export function fineOffset(steps: readonly SharedStep[], noise: StepNoise, search: OffsetSearch): OffsetFound {
  const referenceS = steps.reduce((sum, step) => sum + step.currentS, 0) / steps.length;
  const shiftCount = 2 * Math.ceil(search.halfWidthS / search.stepS) + 1;
  const firstS = search.centreS - ((shiftCount - 1) / 2) * search.stepS;
  const rates = ratesToTry(steps, referenceS, search);
  const posterior = new OffsetPosterior(shiftCount, rates.length);
  const tables = steps.map((step) => stepTables(step, noise, search, firstS, shiftCount));
  const shiftOf = (rate: number, step: number): number =>
    (rates[rate]! * (steps[step]!.currentS - referenceS)) / search.stepS;
  search.voltageLags.forEach((voltageLag, v) => {
    search.currentLags.forEach((currentLag, c) => {
      const logs = tables.map((table) => table.logChance(v, c));
      const common =
        tables.length * rates.length > MOST_COMMON
          ? null
          : (rate: number): Float64Array =>
              commonPhase(
                tables.map((table) => table.chances(v, c)),
                (step) => shiftOf(rate, step),
                shiftCount,
              );
      posterior.add(logs, common, shiftOf, {
        voltageLag,
        currentLag,
        phaseCount: noise.currentIntervalS / search.stepS,
      });
    });
  });
  return { referenceS, ...posterior.summary(firstS, search.stepS, rates) };
}

function ratesToTry(steps: readonly SharedStep[], referenceS: number, search: OffsetSearch): number[] {
  const reachS = Math.max(...steps.map((step) => Math.abs(step.currentS - referenceS)));
  const half = Math.min(30, Math.ceil((search.largestRate * reachS) / search.stepS));
  return Array.from({ length: 2 * half + 1 }, (_, i) => (half === 0 ? 0 : ((i - half) / half) * search.largestRate));
}

/** Likelihoods of one step's time in either series, on grids that start together but for the offset. */
interface StepChances {
  readonly voltage: Float64Array;
  readonly current: Float64Array;
  /** Both are to be multiplied by this, to compare the lags. */
  readonly scale: number;
}

/** For one step and each pair of lags: the logarithm of the likelihood of every offset, and what it comes from. */
interface StepTables {
  logChance(voltageLag: number, currentLag: number): Float64Array;
  chances(voltageLag: number, currentLag: number): StepChances;
}

/**
 * Likelihood of every offset where all steps fell at the same phase between two readings of the current, as they do when
 * a machine switches in whole seconds: then they tell that phase no better than one of them does.
 */
function commonPhase(
  steps: readonly StepChances[],
  shiftOf: (step: number) => number,
  shiftCount: number,
): Float64Array {
  const shifts = steps.map((_, step) => Math.round(shiftOf(step)));
  const phaseCount = steps[0]!.current.length;
  const products = new Float64Array(phaseCount);
  return Float64Array.from({ length: shiftCount }, (_, m) => {
    products.fill(1);
    for (let step = 0; step < steps.length; step += 1) {
      const { voltage, current, scale } = steps[step]!;
      const from = m + shifts[step]!;
      for (let k = 0; k < phaseCount; k += 1) {
        const at = k + from;
        const chance = at >= 0 && at < voltage.length ? voltage[at]! : 0;
        products[k] = products[k]! * (chance * current[k]! * scale + STRAY);
      }
    }
    let sum = 0;
    for (let k = 0; k < phaseCount; k += 1) sum += products[k]!;
    return sum;
  });
}

function stepTables(
  step: SharedStep,
  noise: StepNoise,
  search: OffsetSearch,
  firstShiftS: number,
  shiftCount: number,
): StepTables {
  const { stepS } = search;
  const hiddenS = 3 * noise.currentIntervalS + HIDDEN_S;
  const firstCurrentS = step.currentS - hiddenS;
  const currentCount = Math.ceil((hiddenS + 2 * noise.currentIntervalS) / stepS) + 1;
  const chancesA = stepResiduals(step.current, {
    firstS: firstCurrentS,
    stepS,
    count: currentCount,
    lagsS: search.currentLags.map(({ lagS }) => lagS),
    correlation: 0,
    intervalS: noise.currentIntervalS,
  }).map((residuals) => chances(residuals, noise.sigmaA));
  const chancesV = stepResiduals(step.voltage, {
    firstS: firstCurrentS + firstShiftS,
    stepS,
    count: currentCount + shiftCount - 1,
    lagsS: search.voltageLags.map(({ lagS }) => lagS),
    correlation: noise.correlationV,
    intervalS: noise.voltageIntervalS,
  }).map((residuals) => chances(residuals, noise.sigmaV));
  const logScale = (v: number, c: number): number => chancesV[v]!.logScale + chancesA[c]!.logScale;
  const best = Math.max(...chancesV.map((one) => one.logScale)) + Math.max(...chancesA.map((one) => one.logScale));
  return {
    logChance(v, c) {
      const sums = slide(chancesV[v]!.weights, chancesA[c]!.weights, shiftCount);
      const scale = exponential(logScale(v, c) - best);
      return smoothed(sums).map((sum) => logarithm(sum * scale + STRAY));
    },
    chances: (v, c) => ({
      voltage: chancesV[v]!.weights,
      current: chancesA[c]!.weights,
      scale: exponential(logScale(v, c) - best),
    }),
  };
}

/** Likelihoods relative to the greatest, whose logarithm is `logScale`. */
function chances(residuals: Float64Array, sigma: number): { weights: Float64Array; logScale: number } {
  const least = residuals.reduce((a, b) => Math.min(a, b));
  const scale = 1 / (2 * sigma * sigma);
  return { weights: residuals.map((rss) => exponential((least - rss) * scale)), logScale: -least * scale };
}

/** Weighs each value with its neighbours, since what a clean log tells may be narrower than the grid. */
function smoothed(values: Float64Array): Float64Array {
  return values.map((value, i) => 0.25 * (values[i - 1] ?? value) + 0.5 * value + 0.25 * (values[i + 1] ?? value));
}

/** `sum over k of a[k + m] b[k]` for every m. */
function slide(a: Float64Array, b: Float64Array, count: number): Float64Array {
  const sums = new Float64Array(count);
  for (let m = 0; m < count; m += 1) {
    let sum = 0;
    for (let k = 0; k < b.length; k += 1) sum += a[k + m]! * b[k]!;
    sums[m] = sum;
  }
  return sums;
}
