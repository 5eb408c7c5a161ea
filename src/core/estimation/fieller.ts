import { squared } from "../statistics/portable-power.js";

/** Interval for a ratio; `low` or `high` is infinite where the denominator may be zero on that side. */
export interface RatioInterval {
  readonly ratio: number;
  readonly low: number;
  readonly high: number;
  /** Whether both ends are finite. */
  readonly bounded: boolean;
}

export interface RatioInput {
  readonly numerator: number;
  readonly uNumerator: number;
  readonly denominator: number;
  readonly uDenominator: number;
  /** Covariance of the two; 0 when left out. */
  readonly covariance?: number;
}

/**
 * The ratios `q` for which `numerator - q denominator` lies within `factor` standard uncertainties of zero.
 *
 * Unbounded where the denominator itself lies within `factor` standard uncertainties of zero.
 * Source: Fieller, J. R. Stat. Soc. B 16 (1954) 175-185 (from memory).
 */
export function fiellerInterval(input: RatioInput, factor: number): RatioInterval {
  const { numerator, uNumerator, denominator, uDenominator, covariance = 0 } = input;
  const square = factor * factor;
  const ratio = numerator / denominator;
  // a q^2 - 2 b q + c <= 0
  const a = squared(denominator) - square * squared(uDenominator);
  const b = numerator * denominator - square * covariance;
  const c = squared(numerator) - square * squared(uNumerator);
  if (!(a > 0)) return { ratio, low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY, bounded: false };
  const root = Math.sqrt(Math.max(0, b * b - a * c));
  return { ratio, low: (b - root) / a, high: (b + root) / a, bounded: true };
}
