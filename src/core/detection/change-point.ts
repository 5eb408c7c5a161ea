import { searchBoundedLoss } from "./change-point-bounded-loss.js";
import { type SearchTrace, searchLeastSquares } from "./change-point-least-squares.js";

/** Options of {@link changePoints}. */
export interface ChangePointOptions {
  /** Price of one change, in the unit of the loss (values squared times weight). */
  readonly penalty: number;
  /** Weight of each value (inverse variance up to a factor), each > 0; all ones when left out. */
  readonly weights?: Float64Array;
  /** Fewest values in a segment; 1 when left out. Not together with `outlierLimit`. */
  readonly minimumLength?: number;
  /**
   * Largest distance from the level that still counts in full, in the unit of the values: the loss of one value is
   * `weight x min(distance, outlierLimit)^2`. Plain least squares when left out.
   */
  readonly outlierLimit?: number;
}

/** Piecewise constant fit. */
export interface Segmentation {
  /** First index of each segment, ascending; `starts[0]` is 0 and segment k is `[starts[k], starts[k + 1])`. */
  readonly starts: Int32Array;
  /** Level of each segment. */
  readonly levels: Float64Array;
  /** Sum of the losses plus `penalty` for every change. */
  readonly cost: number;
}

/**
 * The piecewise constant fit with the least loss plus penalty: the exact optimum over all segmentations.
 *
 * Time grows in proportion to the number of values, and a little with the length of segments (the candidates kept grow
 * with its logarithm); memory is 4 bytes a value beside the input (12 with
 * `outlierLimit`).
 *
 * Source: functional pruning optimal partitioning, Maidstone, Hocking, Rigaill & Fearnhead, Stat. Comput. 27 (2017)
 * 519-533, doi 10.1007/s11222-016-9636-3; bounded loss of Fearnhead & Rigaill, J. Am. Stat. Assoc. 114 (2019) 169-183.
 * @throws RangeError for a negative penalty, a minimum length below 1, or weights of another length
 */
export function changePoints(values: Float64Array, options: ChangePointOptions): Segmentation {
  const { penalty, weights, minimumLength = 1, outlierLimit = Number.POSITIVE_INFINITY } = options;
  requireOptions(values.length, penalty, minimumLength, outlierLimit, weights);
  if (values.length === 0) return { starts: new Int32Array(0), levels: new Float64Array(0), cost: 0 };
  const trace =
    outlierLimit < Number.POSITIVE_INFINITY
      ? searchBoundedLoss(values, penalty, weights, outlierLimit)
      : searchLeastSquares(values, penalty, weights, Math.min(minimumLength, values.length));
  return traceBack(values, weights, trace);
}

function traceBack(values: Float64Array, weights: Float64Array | undefined, trace: SearchTrace): Segmentation {
  const { lastStart, lastLevel, cost } = trace;
  const starts: number[] = [];
  const levels: number[] = [];
  for (let end = values.length; end > 0; end = lastStart[end - 1]) {
    const start = lastStart[end - 1];
    starts.push(start);
    levels.push(lastLevel === null ? weightedMean(values, weights, start, end) : lastLevel[end - 1]);
  }
  return { starts: Int32Array.from(starts.reverse()), levels: Float64Array.from(levels.reverse()), cost };
}

function weightedMean(values: Float64Array, weights: Float64Array | undefined, start: number, end: number): number {
  const origin = values[start];
  let sum = 0;
  let weightSum = 0;
  for (let k = start; k < end; k++) {
    const weight = weights === undefined ? 1 : weights[k];
    sum += weight * (values[k] - origin);
    weightSum += weight;
  }
  return origin + sum / weightSum;
}

function requireOptions(
  count: number,
  penalty: number,
  minimumLength: number,
  outlierLimit: number,
  weights: Float64Array | undefined,
): void {
  if (!(penalty >= 0)) throw new RangeError(`Cannot find change points: the penalty must be >= 0, got ${penalty}`);
  if (!(minimumLength >= 1 && Number.isInteger(minimumLength))) {
    throw new RangeError(
      `Cannot find change points: the minimum length must be a whole number >= 1, got ${minimumLength}`,
    );
  }
  if (!(outlierLimit > 0)) {
    throw new RangeError(`Cannot find change points: the outlier limit must be > 0, got ${outlierLimit}`);
  }
  if (minimumLength > 1 && outlierLimit < Number.POSITIVE_INFINITY) {
    throw new RangeError("Cannot find change points: a minimum length and an outlier limit exclude each other");
  }
  if (weights !== undefined && weights.length !== count) {
    throw new RangeError(
      `Cannot find change points: one weight per value is needed, got ${weights.length} for ${count} values`,
    );
  }
}
