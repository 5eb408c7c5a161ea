import { power } from "../statistics/portable-power.js";

/**
 * Step of a digital display in volts, from the readings; null where they show none.
 *
 * The step is the smallest difference between distinct readings of which (almost) all the other differences are whole
 * multiples, provided that the readings use at most a few hundred of its levels: a file with six decimals has no display
 * step worth the name. Readings that never change are taken to step by their last decimal place.
 */
export function displayStepV(values: Float64Array): number | null {
  const stride = Math.max(1, Math.floor(values.length / 20_000));
  const sample: number[] = [];
  for (let i = 0; i < values.length; i += stride) sample.push(values[i]);
  const distinct = Float64Array.from(new Set(sample)).sort();
  if (distinct.length === 1) return lastPlace(distinct[0]);
  if (distinct.length < 2 || distinct.length > MOST_LEVELS) return null;
  let step = Number.POSITIVE_INFINITY;
  for (let k = 1; k < distinct.length; k++) step = Math.min(step, distinct[k] - distinct[k - 1]);
  const range = distinct[distinct.length - 1] - distinct[0];
  if (!(step > 1e-9 * Math.max(1, Math.abs(distinct[0]))) || range / step > 50 * MOST_LEVELS) return null;
  return fittedStep(distinct, step);
}

const MOST_LEVELS = 600;
/** Share of a step by which a level may be off it: readings are written with few decimals. */
const OFF_STEP = 0.12;

/**
 * The step through all levels by least squares, refined while walking up from the lowest, so that a converter's step
 * which the decimals do not show exactly is still found; null where the levels do not lie on a ladder.
 */
function fittedStep(distinct: Float64Array, first: number): number | null {
  let step = first;
  let products = 0;
  let squares = 0;
  let stray = 0;
  for (let k = 1; k < distinct.length; k++) {
    const rise = distinct[k] - distinct[0];
    const rungs = Math.round(rise / step);
    if (Math.abs(rise / step - rungs) > OFF_STEP) stray += 1;
    products += rungs * rise;
    squares += rungs * rungs;
    step = products / squares;
  }
  return stray > 0.01 * distinct.length ? null : step;
}

/** Value of the last decimal place of a number: what a display that never changed may step by at the least. */
function lastPlace(value: number): number {
  const decimals = /\.(\d+)$/.exec(String(value))?.[1].length ?? 0;
  return power(10, -Math.min(decimals, 6));
}
