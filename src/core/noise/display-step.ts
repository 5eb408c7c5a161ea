/**
 * Step of a digital display in volts, from the readings; null where they show none.
 *
 * The step is the smallest difference between distinct readings of which (almost) all the other differences are whole
 * multiples, provided that the readings use at most a few hundred of its levels: a file with six decimals has no display
 * step worth the name.
 */
export function displayStepV(values: Float64Array): number | null {
  const stride = Math.max(1, Math.floor(values.length / 20_000));
  const sample: number[] = [];
  for (let i = 0; i < values.length; i += stride) sample.push(values[i]);
  const distinct = Float64Array.from(new Set(sample)).sort();
  if (distinct.length < 2 || distinct.length > MOST_LEVELS) return null;
  let step = Number.POSITIVE_INFINITY;
  for (let k = 1; k < distinct.length; k++) step = Math.min(step, distinct[k] - distinct[k - 1]);
  const range = distinct[distinct.length - 1] - distinct[0];
  if (!(step > 1e-9 * Math.max(1, Math.abs(distinct[0]))) || range / step > 50 * MOST_LEVELS) return null;
  let stray = 0;
  for (let k = 1; k < distinct.length; k++) {
    const steps = (distinct[k] - distinct[0]) / step;
    if (Math.abs(steps - Math.round(steps)) > 0.02) stray += 1;
  }
  if (stray > 0.01 * distinct.length) return null;
  return range / Math.round(range / step);
}

const MOST_LEVELS = 600;
