import { exponential } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import type { NoiseParameters } from "./noise-parameters.js";
import { SAME_STEP, type SampledTimes } from "./whitening.js";

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
  let meanA = 0;
  let meanL = 0;
  let meanS = 0;
  let paa = coloured;
  let pal = 0;
  let pas = 0;
  let pll = 0;
  let pls = 0;
  let pss = 0;
  const predictedLevel = new Float64Array(n);
  const store = new Float64Array(n * 8); // gains a l s, innovation / variance, pal pll pls, decay
  let decay = 1;
  let previousDt = -1;
  for (let i = 0; i < n; i++) {
    if (i > 0) {
      const dt = timesS[i] - timesS[i - 1];
      if (!(Math.abs(dt - previousDt) <= SAME_STEP * dt)) {
        decay = exponential(-dt / noise.colouredTimeS);
        previousDt = dt;
      }
      pll += dt * (2 * pls + dt * pss) + walk * dt + (bend * dt * dt * dt) / 3;
      pls += dt * pss + (bend * dt * dt) / 2;
      pss += bend * dt;
      pal = decay * (pal + dt * pas);
      pas = decay * pas;
      paa = decay * decay * paa + coloured * (1 - decay * decay);
      meanA *= decay;
      meanL += dt * meanS;
    }
    const size = factors === null ? 1 : factors[i];
    const ga = size * paa + pal;
    const gl = size * pal + pll;
    const gs = size * pas + pls;
    const precision = 1 / ((size * ga + gl) * (1 + 1e-9) + (size * size * white) / readingCounts[i]);
    const innovation = (residualsV[i] - size * meanA - meanL) * precision;
    predictedLevel[i] = meanL;
    const at = i * 8;
    store[at] = ga * precision;
    store[at + 1] = gl * precision;
    store[at + 2] = gs * precision;
    store[at + 3] = innovation;
    store[at + 4] = pal;
    store[at + 5] = pll;
    store[at + 6] = pls;
    store[at + 7] = decay;
    meanA += ga * innovation;
    meanL += gl * innovation;
    meanS += gs * innovation;
    paa -= ga * ga * precision;
    pal -= ga * gl * precision;
    pas -= ga * gs * precision;
    pll -= gl * gl * precision;
    pls -= gl * gs * precision;
    pss -= gs * gs * precision;
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
    const at = i * 8;
    const pull = store[at + 3] - (store[at] * ra + store[at + 1] * rl + store[at + 2] * rs);
    weighted[i] = pull;
    ra += factors === null ? pull : factors[i] * pull;
    rl += pull;
    levelV[i] = predictedLevel[i] + store[at + 4] * ra + store[at + 5] * rl + store[at + 6] * rs;
    if (i > 0) {
      const dt = timesS[i] - timesS[i - 1];
      rs += dt * rl;
      ra *= store[at + 7];
    }
  }
  return { levelV, weighted };
}
