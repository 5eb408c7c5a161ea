import { choleskyInPlace, inverseFromCholesky } from "../statistics/cholesky.js";
import { exponential } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { fromLogs, NOISE_PARAMETER_COUNT, type NoiseParameters } from "./noise-parameters.js";
import {
  type ExplainedReadings,
  type NoiseFit,
  type NoiseObjective,
  type NoisePrior,
  restrictedObjective,
} from "./restricted-likelihood.js";

/** One point of the noise parameters' posterior distribution with its weight; weights sum to 1. */
export interface NoiseNode {
  readonly noise: NoiseParameters;
  readonly weight: number;
}

/**
 * Points and weights that integrate over what the recording leaves open about its noise; the first is the mode.
 *
 * Central composite design in coordinates that make the posterior round, each point weighted by the posterior found
 * there. This is what makes intervals from 45 s of readings honest.
 *
 * Source: Rue, Martino & Chopin 2009, Journal of the Royal Statistical Society B 71, section 6.5 (from memory).
 */
export function posteriorNodes(readings: ExplainedReadings, prior: NoisePrior, fit: NoiseFit): readonly NoiseNode[] {
  return nodesOf((logs) => restrictedObjective(readings, logs, prior), prior, fit);
}

/** The same for any objective that holds the prior. */
export function nodesOf(objective: NoiseObjective, prior: NoisePrior, fit: NoiseFit): readonly NoiseNode[] {
  const n = NOISE_PARAMETER_COUNT;
  const scale = posteriorScale(objective, fit, prior);
  const spread = 1.1;
  const radius2 = n * spread * spread;
  const directions = compositeDirections(n);
  const outerFactor = exponential(radius2 / 2) / (directions.length * spread * spread);
  const nodes: { noise: NoiseParameters; weight: number }[] = [{ noise: fit.noise, weight: 1 - 1 / (spread * spread) }];
  for (const direction of directions) {
    const logs = Float64Array.from(fit.logs);
    for (let a = 0; a < n; a++) for (let b = 0; b <= a; b++) logs[a] += scale[a * n + b] * direction[b] * spread;
    const rise = Math.max(objective(logs) - fit.objective, radius2 / 2 - 2);
    if (!Number.isFinite(rise)) continue;
    nodes.push({ noise: fromLogs(logs), weight: outerFactor * exponential(-rise) });
  }
  const total = nodes.reduce((sum, node) => sum + node.weight, 0);
  return nodes.map((node) => ({ noise: node.noise, weight: node.weight / total }));
}

/** Lower factor of the posterior covariance of the logarithms; of each by itself where the curvature is not positive. */
function posteriorScale(objective: NoiseObjective, fit: NoiseFit, prior: NoisePrior): Float64Array {
  const n = NOISE_PARAMETER_COUNT;
  const curvature = numericCurvature(objective, fit);
  for (let k = 0; k < n; k++) {
    // The curvature at the mode can fall below the prior's own only by rounding or a flank: hold it there.
    curvature[k * n + k] = Math.max(curvature[k * n + k], 0.25 / squared(prior.sdLogs[k]));
  }
  const factor = Float64Array.from(curvature);
  if (choleskyInPlace(factor, n)) {
    const covariance = inverseFromCholesky(factor, n);
    if (choleskyInPlace(covariance, n)) return covariance;
  }
  const diagonal = new Float64Array(n * n);
  for (let k = 0; k < n; k++) diagonal[k * n + k] = 1 / Math.sqrt(curvature[k * n + k]);
  return diagonal;
}

function numericCurvature(objective: NoiseObjective, fit: NoiseFit): Float64Array {
  const n = NOISE_PARAMETER_COUNT;
  const h = 0.15;
  const at = (a: number, da: number, b: number, db: number) => {
    const logs = Float64Array.from(fit.logs);
    logs[a] += da;
    logs[b] += db;
    return objective(logs);
  };
  const curvature = new Float64Array(n * n);
  const plus = new Float64Array(n);
  const minus = new Float64Array(n);
  for (let a = 0; a < n; a++) {
    plus[a] = at(a, h, a, 0);
    minus[a] = at(a, -h, a, 0);
    curvature[a * n + a] = (plus[a] - 2 * fit.objective + minus[a]) / (h * h);
  }
  for (let a = 0; a < n; a++) {
    for (let b = 0; b < a; b++) {
      const mixed = at(a, h, b, h) + at(a, -h, b, -h) + 2 * fit.objective - plus[a] - minus[a] - plus[b] - minus[b];
      curvature[a * n + b] = mixed / (2 * h * h);
      curvature[b * n + a] = curvature[a * n + b];
    }
  }
  return curvature;
}

/** Axis points both ways and the half of the corners whose signs multiply to plus; all on one sphere. */
function compositeDirections(n: number): readonly Float64Array[] {
  const directions: Float64Array[] = [];
  const axis = Math.sqrt(n);
  for (let k = 0; k < n; k++) {
    for (const sign of [1, -1]) {
      const direction = new Float64Array(n);
      direction[k] = sign * axis;
      directions.push(direction);
    }
  }
  for (let corner = 0; corner < 1 << (n - 1); corner++) {
    const direction = new Float64Array(n);
    let product = 1;
    for (let k = 0; k < n - 1; k++) {
      direction[k] = corner & (1 << k) ? 1 : -1;
      product *= direction[k];
    }
    direction[n - 1] = product;
    directions.push(direction);
  }
  return directions;
}
