/**
 * Quantile of values that are sorted already, by linear interpolation between order statistics.
 *
 * Source: Hyndman & Fan, Am. Stat. 50 (1996) 361-365, definition 7.
 * @throws RangeError for no values or a probability outside 0 to 1
 */
export function quantileOfSorted(sorted: Float64Array, probability: number): number {
  if (sorted.length === 0) throw new RangeError("Cannot take a quantile: at least 1 value is needed, got 0");
  if (!(probability >= 0 && probability <= 1)) {
    throw new RangeError(`Cannot take a quantile: the probability must lie between 0 and 1, got ${probability}`);
  }
  const position = probability * (sorted.length - 1);
  const below = Math.floor(position);
  const above = Math.min(below + 1, sorted.length - 1);
  return sorted[below] + (position - below) * (sorted[above] - sorted[below]);
}

/** The same for values in any order; they are left as they are. */
export function quantile(values: Float64Array, probability: number): number {
  return quantileOfSorted(Float64Array.from(values).sort(), probability);
}

/** Middle value, or the mean of the two middle ones. */
export function median(values: Float64Array): number {
  return quantile(values, 0.5);
}
