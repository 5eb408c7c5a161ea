/** Density of the standard normal distribution. */
export function standardNormalDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}

/** Probability that a standard normal is at most z; relative error below 1e-13 down to z = -37. */
export function standardNormalProbability(z: number): number {
  if (z > 0) return 1 - standardNormalProbability(-z);
  return z > -3 ? 0.5 + nearSeries(z) : standardNormalDensity(z) * tailFraction(-z);
}

/** Inverse of `standardNormalProbability`, by Newton steps from the middle outwards. */
export function standardNormalQuantile(probability: number): number {
  if (!(probability > 0 && probability < 1)) {
    throw new RangeError(`Cannot give a quantile: the probability must lie between 0 and 1: ${probability}`);
  }
  if (probability > 0.5) return -standardNormalQuantile(1 - probability);
  // Newton on the logarithm, which is concave: no step overshoots for long.
  let z = -Math.sqrt(-2 * Math.log(2 * probability)) * 0.8;
  for (let round = 0; round < 60; round++) {
    const current = standardNormalProbability(z);
    const step = (Math.log(current / probability) * current) / standardNormalDensity(z);
    z -= step;
    if (Math.abs(step) < 1e-13 * (1 + Math.abs(z))) break;
  }
  return z;
}

/** Phi(z) - 1/2 = density(z) (z + z^3/3 + z^5/15 + ...). Source: Abramowitz and Stegun, 26.2.11 (from memory). */
function nearSeries(z: number): number {
  let term = z;
  let sum = z;
  for (let k = 1; k < 100 && Math.abs(term) > 1e-17 * Math.abs(sum); k++) {
    term *= (z * z) / (2 * k + 1);
    sum += term;
  }
  return standardNormalDensity(z) * sum;
}

/** Continued fraction of the upper tail over the density. Source: Abramowitz and Stegun, 26.2.14 (from memory). */
function tailFraction(x: number): number {
  let fraction = 0;
  for (let k = 200; k >= 1; k--) fraction = k / (x + fraction);
  return 1 / (x + fraction);
}

/**
 * Clopper-Pearson interval for a rate seen `count` times in `total`, by bisection on exact binomial tails.
 *
 * Source: C. J. Clopper, E. S. Pearson, 1934, Biometrika 26, 404-413.
 */
export function rateInterval(
  count: number,
  total: number,
  coverage = 0.95,
): { readonly low: number; readonly high: number } {
  const tail = (1 - coverage) / 2;
  const low = count === 0 ? 0 : bisect((rate) => 1 - binomialAtMost(count - 1, total, rate) - tail);
  const high = count === total ? 1 : bisect((rate) => tail - binomialAtMost(count, total, rate));
  return { low, high };
}

function binomialAtMost(count: number, total: number, rate: number): number {
  if (rate <= 0) return 1;
  if (rate >= 1) return count >= total ? 1 : 0;
  let logTerm = total * Math.log1p(-rate);
  let sum = Math.exp(logTerm);
  for (let k = 1; k <= count; k++) {
    logTerm += Math.log((total - k + 1) / k) + Math.log(rate) - Math.log1p(-rate);
    sum += Math.exp(logTerm);
  }
  return Math.min(1, sum);
}

function bisect(rising: (rate: number) => number): number {
  let low = 0;
  let high = 1;
  for (let round = 0; round < 60; round++) {
    const middle = (low + high) / 2;
    if (rising(middle) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
