import { exponential, logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import type { NoiseParameters } from "./noise-parameters.js";

/** Readings as the noise model sees them: times in seconds, and how many raw readings each stands for. */
export interface SampledTimes {
  readonly timesS: Float64Array;
  /** Readings behind each value; where the readings tell their own uncertainty, weights of mean 1 take their place. */
  readonly readingCounts: Float64Array;
  /** Size of white and coloured noise at each reading relative to the middle one; steady noise when left out. */
  readonly noiseFactors?: Float64Array | null;
}

/** Products of whitened columns: `gram[i * columnCount + j] = column_i' V^-1 column_j`, and `ln |V|`. */
export interface WhitenedProducts {
  readonly gram: Float64Array;
  readonly columnCount: number;
  readonly logDeterminant: number;
}

/**
 * Whitens columns by one Kalman filter and returns their inner products under the inverse noise covariance.
 *
 * Cost O(n x (columns^2 / 2 + 10 columns)); irregular times, gaps and unequal weights are exact. `columns` is row-major:
 * the value of column c at reading i stands at `columns[i * columnCount + c]`. The straight line of the drift is not
 * part of the covariance: put a constant and a linear column among the columns. Of the columns past `fullCount` only
 * the products with the earlier ones and with themselves are formed.
 *
 * Source: augmented Kalman filter, de Jong 1991, The Annals of Statistics 19 (from memory).
 */
export function whitenedProducts(
  sampled: SampledTimes,
  columns: Float64Array,
  columnCount: number,
  noise: NoiseParameters,
  fullCount: number = columnCount,
): WhitenedProducts {
  const gram = new Float64Array(columnCount * columnCount);
  const batch = new Float64Array(BATCH * columnCount);
  let filled = 0;
  const logDeterminant = filterColumns(sampled, columns, columnCount, noise, (whitened, active) => {
    batch.set(whitened, filled * columnCount);
    filled += 1;
    if (filled < BATCH) return;
    addProducts(gram, batch, columnCount, Math.min(fullCount, active), active);
    filled = 0;
  });
  batch.fill(0, filled * columnCount);
  if (filled > 0) addProducts(gram, batch, columnCount, fullCount, columnCount);
  for (let a = 0; a < columnCount; a++) {
    for (let b = 0; b < a; b++) gram[a * columnCount + b] = gram[b * columnCount + a];
  }
  return { gram, columnCount, logDeterminant };
}

/** Whitened rows that are taken together: the products are read and written once for all of them. */
const BATCH = 4;

/** Adds the products of the first `active` columns of a batch; of those past `fullCount` only with the earlier ones. */
function addProducts(
  gram: Float64Array,
  batch: Float64Array,
  columnCount: number,
  fullCount: number,
  active: number,
): void {
  const second = columnCount;
  const third = 2 * columnCount;
  const fourth = 3 * columnCount;
  for (let a = 0; a < fullCount; a++) {
    const w1 = batch[a];
    const w2 = batch[second + a];
    const w3 = batch[third + a];
    const w4 = batch[fourth + a];
    const row = a * columnCount;
    for (let b = a; b < active; b++) {
      gram[row + b] += w1 * batch[b] + w2 * batch[second + b] + w3 * batch[third + b] + w4 * batch[fourth + b];
    }
  }
  for (let a = fullCount; a < active; a++) {
    gram[a * columnCount + a] +=
      squared(batch[a]) + squared(batch[second + a]) + squared(batch[third + a]) + squared(batch[fourth + a]);
  }
}

/** White part that is always there, relative to what else is uncertain: keeps rounding from spoiling the filter. */
const LEAST_WHITE = 1e-9;
/** Steps of time that differ by less than this share of theirs are the same but for rounding. */
export const SAME_STEP = 1e-9;

/**
 * Runs the filter; `visit` sees the whitened row of every reading, and how many of the first columns have not been zero
 * throughout. Returns `ln |V|`.
 *
 * State: coloured part a, level l, slope s. All covariances are shared by the columns; only the means differ.
 */
function filterColumns(
  sampled: SampledTimes,
  columns: Float64Array,
  columnCount: number,
  noise: NoiseParameters,
  visit: (whitened: Float64Array, active: number) => void,
): number {
  const { timesS, readingCounts } = sampled;
  const factors = sampled.noiseFactors ?? null;
  const whiteVariance = squared(noise.whiteV);
  const colouredVariance = squared(noise.colouredV);
  const walkVariance = squared(noise.walkVPerSqrtS);
  const bendVariance = squared(noise.bendVPerS15);
  let paa = colouredVariance;
  let pal = 0;
  let pas = 0;
  let pll = 0;
  let pls = 0;
  let pss = 0;
  const meanA = new Float64Array(columnCount);
  const meanL = new Float64Array(columnCount);
  const meanS = new Float64Array(columnCount);
  const whitened = new Float64Array(columnCount);
  let logDeterminant = 0;
  let determinant = 1;
  let previousDt = -1;
  let decay = 1;
  let colouredStep = 0;
  let active = 0;
  for (let i = 0; i < timesS.length; i++) {
    const row = i * columnCount;
    const before = active;
    for (let c = columnCount - 1; c >= before && active === before; c--) if (columns[row + c] !== 0) active = c + 1;
    const dt = i === 0 ? 0 : timesS[i] - timesS[i - 1];
    if (i > 0) {
      if (!(Math.abs(dt - previousDt) <= SAME_STEP * dt)) {
        decay = exponential(-dt / noise.colouredTimeS);
        colouredStep = colouredVariance * (1 - decay * decay);
        previousDt = dt;
      }
      pll += dt * (2 * pls + dt * pss) + walkVariance * dt + (bendVariance * dt * dt * dt) / 3;
      pls += dt * pss + (bendVariance * dt * dt) / 2;
      pss += bendVariance * dt;
      pal = decay * (pal + dt * pas);
      pas = decay * pas;
      paa = decay * decay * paa + colouredStep;
      for (let c = 0; c < active; c++) {
        meanL[c] += dt * meanS[c];
        meanA[c] *= decay;
      }
    }
    const size = factors === null ? 1 : factors[i];
    const ga = size * paa + pal;
    const gl = size * pal + pll;
    const gs = size * pas + pls;
    const variance = (size * ga + gl) * (1 + LEAST_WHITE) + (size * size * whiteVariance) / readingCounts[i];
    const root = 1 / Math.sqrt(variance);
    determinant *= variance;
    if (determinant < 1e-200 || determinant > 1e200) {
      logDeterminant += logarithm(determinant);
      determinant = 1;
    }
    const ka = ga / variance;
    const kl = gl / variance;
    const ks = gs / variance;
    for (let c = 0; c < active; c++) {
      const innovation = columns[row + c] - size * meanA[c] - meanL[c];
      whitened[c] = innovation * root;
      meanA[c] += ka * innovation;
      meanL[c] += kl * innovation;
      meanS[c] += ks * innovation;
    }
    paa -= ka * ga;
    pal -= ka * gl;
    pas -= ka * gs;
    pll -= kl * gl;
    pls -= kl * gs;
    pss -= ks * gs;
    visit(whitened, active);
  }
  return logDeterminant + logarithm(determinant);
}
