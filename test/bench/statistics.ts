import { randomStream } from "./random.js";

/** Quantile by linear interpolation between order statistics; infinities allowed. */
export function quantile(values: readonly number[], probability: number): number {
  const sorted = [...values].sort((a, b) => a - b);
  const place = probability * (sorted.length - 1);
  const k = Math.floor(place);
  if (k + 1 >= sorted.length) return sorted[sorted.length - 1];
  return sorted[k] === sorted[k + 1] ? sorted[k] : sorted[k] + (place - k) * (sorted[k + 1] - sorted[k]);
}

/** Value exceeded with the given small probability: exponential tail over the 90 % quantile. */
export function tailQuantile(values: readonly number[], exceedance: number): number {
  const base = quantile(values, 0.9);
  const above = values.filter((value) => value > base);
  const mean = above.reduce((sum, value) => sum + value - base, 0) / Math.max(1, above.length);
  return base + mean * Math.log(0.1 / exceedance);
}

export function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

export function rootMeanSquare(values: readonly number[]): number {
  return Math.sqrt(meanOf(values.map((value) => value * value)));
}

export interface Measured {
  readonly value: number;
  readonly low: number;
  readonly high: number;
}

/** The statistic with its 95 % percentile bootstrap interval; records are drawn whole, so pairs stay together. */
export function bootstrapped<T>(records: readonly T[], statistic: (drawn: readonly T[]) => number): Measured {
  if (records.length === 0) return { value: Number.NaN, low: Number.NaN, high: Number.NaN };
  const random = randomStream(7, "bootstrap");
  const values = Array.from({ length: 400 }, () =>
    statistic(records.map(() => records[Math.floor(random.uniform() * records.length)])),
  );
  return { value: statistic(records), low: quantile(values, 0.025), high: quantile(values, 0.975) };
}

/**
 * Mean with the luck of the draw taken out: regression on two controls whose true means are zero.
 *
 * Source: control variates, common practice of simulation (from memory).
 */
export function controlledMean(values: readonly number[], first: readonly number[], second: readonly number[]): number {
  const covariance = (a: readonly number[], b: readonly number[]) => {
    const [meanA, meanB] = [meanOf(a), meanOf(b)];
    return meanOf(a.map((value, i) => (value - meanA) * (b[i] - meanB)));
  };
  const [ff, fs, ss] = [covariance(first, first), covariance(first, second), covariance(second, second)];
  const [vf, vs] = [covariance(values, first), covariance(values, second)];
  const determinant = ff * ss - fs * fs;
  if (determinant <= 1e-12 * ff * ss) return meanOf(values);
  const slopeFirst = (vf * ss - vs * fs) / determinant;
  const slopeSecond = (vs * ff - vf * fs) / determinant;
  return meanOf(values) - slopeFirst * meanOf(first) - slopeSecond * meanOf(second);
}
