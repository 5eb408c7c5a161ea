import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

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
export const STRAY = 1e-3;
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
export class OffsetPosterior {
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
