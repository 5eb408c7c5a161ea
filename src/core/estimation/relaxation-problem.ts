import type { Uncertain } from "../quantity/quantity.js";
import { lagOneAutocorrelation } from "../statistics/autocorrelation.js";
import { type LinearFit, linearFit } from "../statistics/linear-regression.js";
import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";
import { type CurrentLevel, relaxationColumns, stepWeights } from "./relaxation-columns.js";
import { variableProjection } from "./variable-projection.js";

/** Readings of dips for a relaxation fit. */
export interface RelaxationReadings {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly levels: readonly CurrentLevel[];
  readonly weights?: Float64Array;
}

/** Fit with fixed number of pairs, standard errors widened for correlated residuals. */
export interface PairFit {
  readonly ohmicOhm: Uncertain;
  /** Ascending time constants. */
  readonly pairs: readonly { readonly resistanceOhm: Uncertain; readonly timeConstantS: Uncertain }[];
  readonly resistanceAt: (atS: number) => Uncertain;
  readonly residualDeviationV: number;
  readonly residualSquares: number;
  /** Number of readings that the correlation of the residuals leaves. */
  readonly independentCount: number;
  /** Whether neighbouring residuals clearly resemble each other. */
  readonly misfit: boolean;
}

/** One-pair fits over a grid of time constants. */
export interface GridFit {
  readonly bestTauS: number;
  /** Whether the best one lies at an end of the grid, or one far beyond its upper end does as well. */
  readonly edge: "low" | "high" | null;
  /** Whether time constants far apart do about as well as the best one. */
  readonly open: boolean;
  readonly residualDeviationV: number;
  /** Combination of ohmic and pair resistance, averaged over the grid by likelihood. */
  readonly resistance: (weights: (tauS: number) => Float64Array) => Uncertain;
}

const GRID_COUNT = 40;
/** Time constants beyond the grid that are tried, as multiples of its end. */
const BEYOND = [2, 6, 20];
/** Difference of the logarithm of likelihood from which on a time constant does worse: three standard deviations. */
const CLEARLY_WORSE = 4.5;
/** Standard deviation of the logarithm of the time constant beyond which it is not told. */
const MOST_LOG_SPREAD = 0.5;

function logSpread(taus: readonly number[], shares: readonly number[]): number {
  let total = 0;
  let mean = 0;
  let square = 0;
  taus.forEach((tau, k) => {
    total += shares[k];
    mean += shares[k] * logarithm(tau);
    square += shares[k] * squared(logarithm(tau));
  });
  return Math.sqrt(Math.max(0, square / total - squared(mean / total)));
}

/** Level, linear drift and relaxation of one stretch of readings for a given lag of the meter. */
export class RelaxationProblem {
  private readonly originS: number;
  private readonly spanS: number;
  private readonly lowTauS: number;
  private readonly highTauS: number;

  constructor(
    private readonly readings: RelaxationReadings,
    private readonly lagS: number,
  ) {
    const { timesS, levels } = readings;
    const count = timesS.length;
    this.originS = (timesS[0] + timesS[count - 1]) / 2;
    this.spanS = timesS[count - 1] - timesS[0];
    this.lowTauS = (0.5 * this.spanS) / (count - 1);
    this.highTauS = 4 * longestLevel(levels, timesS[count - 1]);
  }

  /** Fits with one pair over the whole range of time constants. */
  grid(): GridFit {
    const ratio = power(this.highTauS / this.lowTauS, 1 / (GRID_COUNT - 1));
    const taus = Array.from({ length: GRID_COUNT }, (_, k) => this.lowTauS * power(ratio, k));
    const fits = taus.map((tauS) => this.linear([tauS]));
    const best = fits.reduce((least, fit, k) => (fit.residualSquares < fits[least].residualSquares ? k : least), 0);
    const widening = this.widening(fits[best]);
    const halfCount = this.readings.timesS.length / widening / 2;
    const scores = fits.map((fit) => -halfCount * logarithm(fit.residualSquares));
    const shares = scores.map((score) => exponential(score - scores[best]));
    const total = shares.reduce((sum, share) => sum + share, 0);
    const slower = BEYOND.map((factor) => this.linear([factor * this.highTauS]).residualSquares);
    const asGood = slower.some((squares) => scores[best] + halfCount * logarithm(squares) < CLEARLY_WORSE);
    return {
      bestTauS: taus[best],
      edge: best === 0 ? "low" : best === GRID_COUNT - 1 || asGood ? "high" : null,
      open: logSpread(taus, shares) > MOST_LOG_SPREAD,
      residualDeviationV: fits[best].residualDeviation,
      resistance: (weights) => {
        let mean = 0;
        let square = 0;
        fits.forEach((fit, k) => {
          const one = combination(fit, weights(taus[k]));
          mean += (shares[k] / total) * one.value;
          square += (shares[k] / total) * (squared(one.value) + widening * squared(one.u));
        });
        return { value: mean, u: Math.sqrt(Math.max(0, square - squared(mean))) };
      },
    };
  }

  /** Free time constants from a start; null where they do not converge inside the range. */
  refine(startTausS: readonly number[]): PairFit | null {
    const { timesS, voltagesV, weights } = this.readings;
    const pairCount = startTausS.length;
    const fit = variableProjection(
      {
        y: voltagesV,
        columnCount: pairCount + 3,
        start: Float64Array.from(startTausS, logarithm),
        columns: (logs, out) => out.set(this.design(Array.from(logs, exponential))),
        ...(weights === undefined ? {} : { weights }),
      },
      { mostSteps: 30 },
    );
    if (!fit.converged) return null;
    const taus = Array.from(fit.shape, exponential);
    if (!taus.every((tauS) => tauS > this.lowTauS && tauS < this.highTauS)) return null;
    const linear = this.linear(taus);
    const widening = this.widening(linear);
    const root = Math.sqrt(widening);
    const width = fit.standardErrors.length;
    const pairs = taus
      .map((tauS, k) => ({
        resistanceOhm: { value: fit.coefficients[k + 1], u: root * fit.standardErrors[k + 1] },
        timeConstantS: { value: tauS, u: root * tauS * fit.standardErrors[pairCount + 3 + k] },
      }))
      .sort((a, b) => a.timeConstantS.value - b.timeConstantS.value);
    return {
      ohmicOhm: { value: fit.coefficients[0], u: root * fit.standardErrors[0] },
      pairs,
      resistanceAt: (atS) => {
        const slopes = new Float64Array(width);
        slopes.set(stepWeights(atS, taus));
        taus.forEach((tauS, k) => {
          slopes[pairCount + 3 + k] = -fit.coefficients[k + 1] * (atS / tauS) * exponential(-atS / tauS);
        });
        const value = slopes.subarray(0, pairCount + 1).reduce((sum, slope, k) => sum + slope * fit.coefficients[k], 0);
        return { value, u: root * Math.sqrt(quadraticForm(fit.covariance, slopes)) };
      },
      residualDeviationV: fit.residualDeviation,
      residualSquares: fit.residualSquares,
      independentCount: timesS.length / widening,
      misfit: widening > 1,
    };
  }

  private linear(tausS: readonly number[]): LinearFit {
    const { voltagesV, weights } = this.readings;
    return linearFit(this.design(tausS), voltagesV, weights === undefined ? {} : { weights });
  }

  /** Columns: minus resistor, minus pairs, level, drift. */
  private design(tausS: readonly number[]): Float64Array {
    const { timesS, levels } = this.readings;
    const relaxation = relaxationColumns(timesS, levels, tausS, this.lagS);
    const inner = tausS.length + 1;
    const width = inner + 2;
    const out = new Float64Array(timesS.length * width);
    for (let i = 0; i < timesS.length; i++) {
      for (let k = 0; k < inner; k++) out[i * width + k] = -relaxation[i * inner + k];
      out[i * width + inner] = 1;
      out[i * width + inner + 1] = (timesS[i] - this.originS) / this.spanS;
    }
    return out;
  }

  /** Factor on all variances for the correlation of neighbouring residuals. */
  private widening(fit: LinearFit): number {
    const correlation = Math.min(0.95, Math.max(0, lagOneAutocorrelation(fit.residuals)));
    // A correlation within two standard errors of none counts as none.
    return correlation * Math.sqrt(fit.residuals.length) < 2 ? 1 : (1 + correlation) / (1 - correlation);
  }
}

function combination(fit: LinearFit, weights: Float64Array): Uncertain {
  const slopes = new Float64Array(fit.coefficients.length);
  slopes.set(weights);
  const value = slopes.reduce((sum, slope, k) => sum + slope * fit.coefficients[k], 0);
  return { value, u: Math.sqrt(quadraticForm(fit.covariance, slopes)) };
}

function quadraticForm(matrix: Float64Array, vector: Float64Array): number {
  const count = vector.length;
  let sum = 0;
  for (let a = 0; a < count; a++) {
    for (let b = 0; b < count; b++) sum += vector[a] * vector[b] * matrix[a * count + b];
  }
  return Math.max(0, sum);
}

function longestLevel(levels: readonly CurrentLevel[], endS: number): number {
  return levels.reduce(
    (longest, { timeS }, k) => Math.max(longest, Math.min(levels[k + 1]?.timeS ?? endS, endS) - timeS),
    0,
  );
}
