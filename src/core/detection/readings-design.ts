import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { ExplainedReadings } from "../noise/restricted-likelihood.js";
import { smoothResiduals } from "../noise/smoothed-residuals.js";
import { whitenedProducts } from "../noise/whitening.js";
import type { WorkingSeries } from "../series/working-series.js";
import { choleskyInPlace, inverseFromCholesky, solveCholesky } from "../statistics/cholesky.js";

/** Columns of a least-squares problem: constant, line, the given dips, and the readings last. */
export interface DesignColumns {
  readonly columns: Float64Array;
  readonly columnCount: number;
}

/** Depths of several dips fitted together, with their covariance (row-major, V^2), and the fitted level. */
export interface JointDepths {
  readonly depthsV: Float64Array;
  readonly covarianceV2: Float64Array;
  readonly driftV: Float64Array;
  readonly modelV: Float64Array;
  /** Readings less line and dips, under the inverse noise covariance; per volt. */
  readonly weighted: Float64Array;
}

/** Puts the readings of one series beside the columns that explain them. */
export class ReadingsDesign {
  /** Scatter of one block from its neighbours, volts. */
  readonly scatterV: number;
  readonly intervalS: number;
  private readonly line: Float64Array;
  private readonly readings: Float64Array;
  private readonly centreV: number;

  constructor(readonly series: WorkingSeries) {
    const { timesS, valuesV, readingCounts } = series;
    const n = timesS.length;
    const middleS = (timesS[0] + timesS[n - 1]) / 2;
    const halfS = Math.max((timesS[n - 1] - timesS[0]) / 2, 1e-9);
    this.line = timesS.map((t) => (t - middleS) / halfS);
    this.centreV = valuesV.reduce((sum, v) => sum + v, 0) / n;
    this.readings = valuesV.map((v) => v - this.centreV);
    this.intervalS = n > 1 ? (timesS[n - 1] - timesS[0]) / (n - 1) : 1;
    const meanCount = readingCounts.reduce((sum, c) => sum + c, 0) / n;
    this.scatterV = Math.max(series.readingScatterV / Math.sqrt(meanCount), 1e-7);
  }

  /** Constant, line, dips, readings, and then `after`; row-major. */
  columns(dips: readonly Float64Array[], after: readonly Float64Array[] = []): DesignColumns {
    const rest = [...dips, this.readings, ...after];
    const columnCount = 2 + rest.length;
    const n = this.line.length;
    const columns = new Float64Array(n * columnCount);
    for (let i = 0; i < n; i++) {
      const row = i * columnCount;
      columns[row] = 1;
      columns[row + 1] = this.line[i];
      for (let c = 0; c < rest.length; c++) columns[row + 2 + c] = rest[c][i];
    }
    return { columns, columnCount };
  }

  /** The readings with the dips that explain them, for the restricted likelihood. */
  explained(dips: readonly Float64Array[]): ExplainedReadings {
    return { sampled: this.series, ...this.columns(dips) };
  }

  /**
   * Fits all dips together by generalised least squares, and the level behind them.
   *
   * Returns null where the dips cannot be told apart (two templates that are the same).
   */
  jointDepths(dips: readonly Float64Array[], noise: NoiseParameters): JointDepths | null {
    const { columns, columnCount } = this.columns(dips);
    const explained = columnCount - 1;
    const { gram } = whitenedProducts(this.series, columns, columnCount, noise);
    const factor = new Float64Array(explained * explained);
    const right = new Float64Array(explained);
    for (let a = 0; a < explained; a++) {
      for (let b = 0; b < explained; b++) factor[a * explained + b] = gram[a * columnCount + b];
      right[a] = gram[a * columnCount + explained];
    }
    if (!choleskyInPlace(factor, explained)) return null;
    const solution = solveCholesky(factor, explained, right);
    const inverse = inverseFromCholesky(factor, explained);
    const n = this.line.length;
    const lineV = new Float64Array(n);
    const dipsV = new Float64Array(n);
    const residualsV = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      const row = i * columnCount;
      lineV[i] = solution[0] + solution[1] * this.line[i];
      for (let c = 2; c < explained; c++) dipsV[i] += solution[c] * columns[row + c];
      residualsV[i] = columns[row + explained] - lineV[i] - dipsV[i];
    }
    const { levelV: wanderV, weighted } = smoothResiduals(this.series, residualsV, noise);
    const driftV = wanderV.map((v, i) => v + lineV[i] + this.centreV);
    const size = dips.length;
    const covarianceV2 = new Float64Array(size * size);
    for (let a = 0; a < size; a++) {
      for (let b = 0; b < size; b++) covarianceV2[a * size + b] = inverse[(a + 2) * explained + b + 2];
    }
    return { depthsV: solution.slice(2), covarianceV2, driftV, modelV: driftV.map((v, i) => v + dipsV[i]), weighted };
  }
}
