import type { BudgetRow, UncertaintyBudget } from "../analysis.js";

/** One input of a measurement model. */
export type BudgetInput = Omit<BudgetRow, "share">;

/** What {@link uncertaintyBudget} needs beside the inputs. */
export interface BudgetHead {
  readonly quantity: UncertaintyBudget["quantity"];
  readonly load: string | null;
  readonly unit: UncertaintyBudget["unit"];
  readonly value: number;
  readonly method?: UncertaintyBudget["method"];
  /** Correlation coefficients of the inputs, row-major square matrix; none when left out. */
  readonly correlation?: Float64Array;
}

/**
 * First-order budget: `u^2 = sum_ij c_i c_j u_i u_j r_ij`.
 *
 * The share of a row is its part of that sum, half of each covariance term to either partner, so that the shares add up
 * to 1; with correlated inputs a share may be negative.
 *
 * Source: JCGM 100:2008, eqs. 10 and 16, table H.1 (layout).
 */
export function uncertaintyBudget(inputs: readonly BudgetInput[], head: BudgetHead): UncertaintyBudget {
  const parts = Float64Array.from(inputs, ({ sensitivity, u }) => sensitivity * u);
  const shares = varianceShares(parts, head.correlation);
  const variance = shares.reduce((sum, share) => sum + share, 0);
  return {
    quantity: head.quantity,
    load: head.load,
    unit: head.unit,
    value: head.value,
    u: Math.sqrt(Math.max(0, variance)),
    rows: inputs.map((input, k) => ({ ...input, share: variance > 0 ? shares[k] / variance : 0 })),
    method: head.method ?? "first-order",
  };
}

function varianceShares(parts: Float64Array, correlation: Float64Array | undefined): Float64Array {
  const count = parts.length;
  if (correlation === undefined) return parts.map((part) => part * part);
  if (correlation.length !== count * count) {
    throw new RangeError(
      `Cannot draw up a budget: ${count} inputs need a correlation matrix of ${count * count}, got ${correlation.length}`,
    );
  }
  return parts.map((part, i) => {
    let sum = 0;
    for (let j = 0; j < count; j++) sum += correlation[i * count + j] * parts[j];
    return part * sum;
  });
}

/**
 * Effective degrees of freedom of a combined standard uncertainty; infinite when no part has finite ones.
 *
 * `parts` are `c_i u_i`, `dofs` their degrees of freedom. Source: Welch-Satterthwaite, JCGM 100:2008, eq. G.2b.
 */
export function effectiveDegreesOfFreedom(parts: Float64Array, dofs: Float64Array): number {
  let variance = 0;
  let sum = 0;
  for (let k = 0; k < parts.length; k++) {
    const square = parts[k] * parts[k];
    variance += square;
    sum += (square * square) / dofs[k];
  }
  return sum === 0 ? Number.POSITIVE_INFINITY : (variance * variance) / sum;
}

/** Standard uncertainty of a rectangular distribution of the given half-width. Source: JCGM 100:2008, 4.3.7. */
export function rectangularU(halfWidth: number): number {
  return halfWidth / Math.sqrt(3);
}
