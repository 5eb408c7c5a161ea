import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type SampledTimes, whitenedProducts } from "../noise/whitening.js";
import { choleskyOfNormal, forwardSubstitute } from "../statistics/cholesky.js";

/** Generalised-least-squares amplitude of each template, with the common columns fitted beside it. */
export interface MatchedScores {
  readonly amplitudesV: Float64Array;
  readonly uAmplitudesV: Float64Array;
  /** Amplitude over its standard uncertainty. */
  readonly scores: Float64Array;
  /** Correlations of the scores, row-major; null where they were not asked for. */
  readonly correlations: Float64Array | null;
}

/**
 * Fits each template alone, beside the same common columns, to the same readings.
 *
 * `common` columns (drift line, other loads) come first in `columns`, then the readings, then the templates. A template
 * that the common columns explain has amplitude 0 with infinite uncertainty. Of few readings the common columns may be
 * one another's sum: those that say nothing more change nothing.
 *
 * Source: generalised least squares, Aitken 1935; partitioned regression, Frisch & Waugh 1933 (from memory).
 */
export function matchedScores(
  sampled: SampledTimes,
  columns: Float64Array,
  counts: { readonly common: number; readonly templates: number },
  noise: NoiseParameters,
  withCorrelations: boolean,
): MatchedScores {
  const { common, templates } = counts;
  const columnCount = common + 1 + templates;
  const { gram } = whitenedProducts(sampled, columns, columnCount, noise, withCorrelations ? columnCount : common + 1);
  const normal = new Float64Array(common * common);
  for (let a = 0; a < common; a++) {
    for (let b = 0; b < common; b++) normal[a * common + b] = gram[a * columnCount + b];
  }
  const factor = choleskyOfNormal(normal, common);
  const project = (column: number): Float64Array => {
    const right = new Float64Array(common);
    for (let a = 0; a < common; a++) right[a] = gram[a * columnCount + column];
    return forwardSubstitute(factor, common, right);
  };
  const readings = project(common);
  const projected = Array.from({ length: templates }, (_, j) => project(common + 1 + j));
  const amplitudesV = new Float64Array(templates);
  const uAmplitudesV = new Float64Array(templates);
  const scores = new Float64Array(templates);
  for (let j = 0; j < templates; j++) {
    const own = (common + 1 + j) * columnCount + common + 1 + j;
    const energy = gram[own] - dot(projected[j], projected[j]);
    if (!(energy > 1e-9 * gram[own])) {
      uAmplitudesV[j] = Number.POSITIVE_INFINITY;
      continue;
    }
    const product = gram[common * columnCount + common + 1 + j] - dot(projected[j], readings);
    amplitudesV[j] = product / energy;
    uAmplitudesV[j] = 1 / Math.sqrt(energy);
    scores[j] = product / Math.sqrt(energy);
  }
  let correlations: Float64Array | null = null;
  if (withCorrelations) {
    correlations = new Float64Array(templates * templates);
    for (let i = 0; i < templates; i++) {
      for (let j = 0; j < templates; j++) {
        const inner = gram[(common + 1 + i) * columnCount + common + 1 + j] - dot(projected[i], projected[j]);
        const scaled = inner * uAmplitudesV[i] * uAmplitudesV[j];
        correlations[i * templates + j] = Number.isFinite(scaled) ? scaled : i === j ? 1 : 0;
      }
    }
  }
  return { amplitudesV, uAmplitudesV, scores, correlations };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let k = 0; k < a.length; k++) sum += a[k] * b[k];
  return sum;
}
