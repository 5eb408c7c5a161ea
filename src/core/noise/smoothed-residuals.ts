import { exponential } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";
import type { NoiseParameters } from "./noise-parameters.js";
import type { SampledTimes } from "./whitening.js";

/** What smoothing gives at each reading. */
export interface Smoothed {
  /** Best estimate of the slow level, volts; white and coloured noise are taken out. */
  readonly levelV: Float64Array;
  /** The residuals under the inverse noise covariance, `V^-1 r`, per volt. */
  readonly weighted: Float64Array;
}

/**
 * Smooths residuals from the straight line and the dips, and weights them by the inverse of the noise covariance.
 *
 * Fixed-interval smoothing; exact for irregular times, gaps and unequal weights; cost O(n).
 *
 * Source: Bryson & Frazier 1963; de Jong 1989, Journal of the American Statistical Association 84 (from memory).
 */
export function smoothResiduals(sampled: SampledTimes, residualsV: Float64Array, noise: NoiseParameters): Smoothed {
  const { timesS, readingCounts } = sampled;
  const factors = sampled.noiseFactors ?? null;
  const n = timesS.length;
  const white = squared(noise.whiteV);
  const coloured = squared(noise.colouredV);
  const walk = squared(noise.walkVPerSqrtS);
  const bend = squared(noise.bendVPerS15);
  const mean = new Float64Array(3);
  let p = Float64Array.of(coloured, 0, 0, 0, 0, 0); // aa al as ll ls ss
  const predictedLevel = new Float64Array(n);
  const store = new Float64Array(n * 9); // gains a l s, innovation / variance, 1 / variance, pal pll pls, decay
  let decay = 1;
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      const dt = timesS[i] - timesS[i - 1];
      decay = exponential(-dt / noise.colouredTimeS);
      const [aa, al, as, ll, ls, ss] = p;
      p = Float64Array.of(
        decay * decay * aa + coloured * (1 - decay * decay),
        decay * (al + dt * as),
        decay * as,
        ll + dt * (2 * ls + dt * ss) + walk * dt + (bend * power(dt, 3)) / 3,
        ls + dt * ss + (bend * dt * dt) / 2,
        ss + bend * dt,
      );
      mean[0] *= decay;
      mean[1] += dt * mean[2];
    }
    const size = factors === null ? 1 : factors[i];
    const ga = size * p[0] + p[1];
    const gl = size * p[1] + p[3];
    const gs = size * p[2] + p[4];
    const variance = (size * ga + gl) * (1 + 1e-9) + (size * size * white) / readingCounts[i];
    const innovation = residualsV[i] - size * mean[0] - mean[1];
    predictedLevel[i] = mean[1];
    store.set(
      [ga / variance, gl / variance, gs / variance, innovation / variance, 1 / variance, p[1], p[3], p[4], decay],
      i * 9,
    );
    mean[0] += (ga / variance) * innovation;
    mean[1] += (gl / variance) * innovation;
    mean[2] += (gs / variance) * innovation;
    p = Float64Array.of(
      p[0] - (ga * ga) / variance,
      p[1] - (ga * gl) / variance,
      p[2] - (ga * gs) / variance,
      p[3] - (gl * gl) / variance,
      p[4] - (gl * gs) / variance,
      p[5] - (gs * gs) / variance,
    );
  }
  return smoothBackwards(timesS, predictedLevel, store, factors);
}

function smoothBackwards(
  timesS: Float64Array,
  predictedLevel: Float64Array,
  store: Float64Array,
  factors: Float64Array | null,
): Smoothed {
  const n = timesS.length;
  const levelV = new Float64Array(n);
  const weighted = new Float64Array(n);
  // r = adjoint of the prediction at reading i, for coloured part, level and slope.
  let ra = 0;
  let rl = 0;
  let rs = 0;
  for (let i = n - 1; i >= 0; i--) {
    const at = i * 9;
    const pull = store[at + 3] - (store[at] * ra + store[at + 1] * rl + store[at + 2] * rs);
    weighted[i] = pull;
    ra += factors === null ? pull : factors[i] * pull;
    rl += pull;
    levelV[i] = predictedLevel[i] + store[at + 5] * ra + store[at + 6] * rl + store[at + 7] * rs;
    if (i > 0) {
      const dt = timesS[i] - timesS[i - 1];
      rs += dt * rl;
      ra *= store[at + 8];
    }
  }
  return { levelV, weighted };
}
