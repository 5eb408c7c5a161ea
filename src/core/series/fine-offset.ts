import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
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

/** A first-order time constant and how likely it is before any reading. */
export interface WeightedLag {
  readonly lagS: number;
  readonly weight: number;
}

/** What the steps tell of the offset at `referenceS` and of the rate: means and standard deviations. */
export interface OffsetFound {
  readonly referenceS: number;
  readonly offsetS: number;
  readonly uOffsetS: number;
  readonly lowS: number;
  readonly highS: number;
  /** Difference of the clocks' rates, as a fraction. */
  readonly rate: number;
  readonly uRate: number;
  readonly voltageLagS: number;
  readonly uVoltageLagS: number;
  readonly currentLagS: number;
  /**
   * Twice the logarithm of the likelihood that the single steps lose by sharing one offset: about a chi-square variable
   * of one degree less than there are steps, if they do share one.
   */
  readonly discord: number;
  /** How well each step by itself would tell the offset, at the likeliest lags: standard deviations, s. */
  readonly spreadsS: readonly number[];
}

/** Likelihood left to any offset, against about 10 for the best: keeps one stray step from ruling the result. */
const STRAY = 1e-3;
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
  const posterior = new Posterior(shiftCount, rates.length);
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

/** The lags of one layer, and on how many points of the grid one interval of the current lies. */
interface LayerOrigin {
  readonly voltageLag: WeightedLag;
  readonly currentLag: WeightedLag;
  readonly phaseCount: number;
}

function logSum(a: number, b: number): number {
  const most = Math.max(a, b);
  return most + logarithm(exponential(a - most) + exponential(b - most));
}

/** Weights over offsets and rates, summed over the lags. */
class Posterior {
  private readonly layers: {
    readonly logs: Float64Array;
    readonly most: number;
    /** Logarithm of the likelihood that the steps lose by sharing one offset. */
    readonly discord: number;
    readonly voltageLagS: number;
    readonly currentLagS: number;
    readonly spreads: readonly number[];
  }[] = [];

  constructor(
    private readonly shiftCount: number,
    private readonly rateCount: number,
  ) {}

  /** Adds what the steps tell at one pair of lags: each at a phase of its own, or all at a common one, evenly likely. */
  add(
    logs: readonly Float64Array[],
    common: ((rate: number) => Float64Array) | null,
    shiftOf: (rate: number, step: number) => number,
    { voltageLag, currentLag, phaseCount }: LayerOrigin,
  ): void {
    const prior = logarithm(voltageLag.weight * currentLag.weight);
    const sums = new Float64Array(this.shiftCount * this.rateCount).fill(prior);
    // The most that the steps could have had, each at an offset of its own.
    const alone = logs.reduce((sum, log) => sum + log.reduce((a, b) => Math.max(a, b)), prior);
    for (let rate = 0; rate < this.rateCount; rate += 1) {
      logs.forEach((log, step) => {
        const shift = shiftOf(rate, step);
        for (let m = 0; m < this.shiftCount; m += 1) sums[rate * this.shiftCount + m]! += between(log, m + shift);
      });
    }
    const together = sums.reduce((a, b) => Math.max(a, b));
    // A phase of its own has one chance in so many for every step, a common one for all of them at once.
    const ownPrior = -logs.length * logarithm(phaseCount);
    for (let rate = 0; rate < this.rateCount; rate += 1) {
      const shared = common?.(rate);
      for (let m = 0; m < this.shiftCount; m += 1) {
        const at = rate * this.shiftCount + m;
        const own = sums[at]! + ownPrior;
        sums[at] = shared === undefined ? own : logSum(own, logarithm(shared[m]! / phaseCount) + prior);
      }
    }
    const most = sums.reduce((a, b) => Math.max(a, b));
    const { lagS: voltageLagS } = voltageLag;
    this.layers.push({
      logs: sums,
      most,
      discord: alone - together,
      voltageLagS,
      currentLagS: currentLag.lagS,
      spreads: logs.map(spreadOf),
    });
  }

  summary(firstS: number, stepS: number, rates: readonly number[]): Omit<OffsetFound, "referenceS"> {
    const most = Math.max(...this.layers.map((layer) => layer.most));
    const overShifts = new Float64Array(this.shiftCount);
    const overRates = new Float64Array(this.rateCount);
    let [voltageLag, voltageLagSquare, currentLag] = [0, 0, 0];
    let total = 0;
    for (const { logs, voltageLagS, currentLagS } of this.layers) {
      let layerTotal = 0;
      for (let k = 0; k < logs.length; k += 1) {
        const weight = exponential(logs[k]! - most);
        layerTotal += weight;
        overShifts[k % this.shiftCount]! += weight;
        overRates[Math.floor(k / this.shiftCount)]! += weight;
      }
      voltageLag += layerTotal * voltageLagS;
      voltageLagSquare += layerTotal * squared(voltageLagS);
      currentLag += layerTotal * currentLagS;
      total += layerTotal;
    }
    const offset = momentsOf(overShifts, (m) => firstS + m * stepS);
    const rate = momentsOf(overRates, (r) => rates[r]!);
    return {
      offsetS: offset.mean,
      // The grid itself blurs what it shows.
      uOffsetS: rootSumSquares(offset.deviation, stepS / Math.sqrt(12)),
      lowS: firstS + stepS * quantileAt(overShifts, total * 0.025) - stepS / 2,
      highS: firstS + stepS * quantileAt(overShifts, total * 0.975) + stepS / 2,
      rate: rate.mean,
      uRate: rate.deviation,
      voltageLagS: voltageLag / total,
      uVoltageLagS: Math.sqrt(Math.max(0, voltageLagSquare / total - squared(voltageLag / total))),
      currentLagS: currentLag / total,
      spreadsS: this.layers
        .reduce((a, b) => (b.most > a.most ? b : a))
        .spreads.map((spread) => stepS * rootSumSquares(spread, 1 / Math.sqrt(12))),
      discord: 2 * Math.min(...this.layers.filter((layer) => layer.most > most - 3).map((layer) => layer.discord)),
    };
  }
}

/** Standard deviation of one step's likelihood over the offsets, in steps of the grid, the floor for strays taken off. */
function spreadOf(logs: Float64Array): number {
  return momentsOf(
    logs.map((log) => Math.max(0, exponential(log) - STRAY)),
    (m) => m,
  ).deviation;
}

function between(values: Float64Array, at: number): number {
  const clamped = Math.min(values.length - 1, Math.max(0, at));
  const low = Math.floor(clamped);
  const share = clamped - low;
  return share === 0 ? values[low]! : values[low]! * (1 - share) + values[low + 1]! * share;
}

function momentsOf(weights: Float64Array, at: (index: number) => number): { mean: number; deviation: number } {
  let [total, first] = [0, 0];
  weights.forEach((weight, i) => {
    total += weight;
    first += weight * at(i);
  });
  const mean = first / total;
  const second = weights.reduce((sum, weight, i) => sum + weight * squared(at(i) - mean), 0);
  return { mean, deviation: Math.sqrt(second / total) };
}

/** Index, in fractions, at which the sum of weights reaches `share`. */
function quantileAt(weights: Float64Array, share: number): number {
  let sum = 0;
  for (let i = 0; i < weights.length; i += 1) {
    if (sum + weights[i]! >= share) return i - 0.5 + (share - sum) / weights[i]!;
    sum += weights[i]!;
  }
  return weights.length - 1;
}
