import type { NoiseParameters } from "../noise/noise-parameters.js";
import { type Gap, gapsIn } from "../series/gaps.js";
import type { WorkingSeries } from "../series/working-series.js";
import { exponential } from "../statistics/portable-exponential.js";
import { power } from "../statistics/portable-power.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import { dipTemplate, type OnTime, plainShape } from "./switching-template.js";

/**
 * What the readings say about an edge of the voltage at each point of a time grid.
 *
 * `products[k]` is the inner product, under the inverse noise covariance, of the readings with a unit fall at
 * `startS + k stepS` seen through the meter's lag. A train of dips is a sum of such falls and rises, so that every train
 * is scored from these numbers alone.
 */
export interface EdgeField {
  readonly startS: number;
  readonly stepS: number;
  readonly products: Float64Array;
  /** 1 where no edge may lie: a dip found before is there, or in a long recording a gap. */
  readonly blocked: Uint8Array;
  readonly covariance: EdgeCovariance;
  /**
   * Running sum, before each point, of one over the squared size of the noise relative to that of `covariance`; null where
   * the covariance holds it already, and for steady noise.
   */
  readonly precisionSums: Float64Array | null;
}

/**
 * Covariance of the products without any dip. Exact for short recordings (`matrix`, row-major over the whole grid); for
 * long ones that of a stretch in the middle (`matrix` over `size` points), the same everywhere.
 */
export interface EdgeCovariance {
  readonly matrix: Float64Array;
  readonly size: number;
  readonly everywhere: boolean;
}

/** Spacing of the grid. Half a step off costs less than 0.1 dB with a lag of 0.3 s or more. */
const STEP_S = 0.3;
/** Longest recording whose edges are all held against each other, and the length of the stretch for longer ones. */
const EXACT_S = 100;
/** Readings beside the stretch: as dense as in it so far, so far apart beyond, and none beyond that. */
const NEAR_MARGIN_S = 60;
const FAR_INTERVAL_S = 5;
const LONGEST_MARGIN_S = 2000;
/** Spacing of the stretch's readings: finer ones tell nothing more through the meter's lag. */
const COARSEST_S = 0.25;

/** An edge inside a dip that is known, or this near to it, is what a fit of that one left. */
const BLOCKED_S = 1;

/** A gap shorter than this hides no dip, and an edge in it is as good as one beside it. */
const SHORT_GAP_S = 1.5;

/** Gaps of a recording too long for its edges to be held against each other, in which an edge is not looked for. */
export function blockedGaps(timesS: Float64Array): readonly Gap[] {
  if (timesS[timesS.length - 1] - timesS[0] <= EXACT_S) return [];
  return gapsIn(timesS).filter(({ startS, endS }) => endS - startS >= SHORT_GAP_S);
}

/** Puts the points of every longer gap out of the search: dips there would all score nothing and be taken for calm. */
function blockGaps(blocked: Uint8Array, timesS: Float64Array): void {
  for (const { startS, endS } of blockedGaps(timesS)) {
    blocked.fill(1, Math.ceil((startS - timesS[0]) / STEP_S), Math.ceil((endS - timesS[0]) / STEP_S));
  }
}

function blockedPoints(startS: number, count: number, onTimes: readonly OnTime[]): Uint8Array {
  const blocked = new Uint8Array(count);
  for (const { onsetS, releaseS } of onTimes) {
    const from = Math.max(0, Math.ceil((onsetS - BLOCKED_S - startS) / STEP_S));
    const to = Math.floor((releaseS + BLOCKED_S - startS) / STEP_S);
    blocked.fill(1, from, Math.max(from, to + 1));
  }
  return blocked;
}

/**
 * Scores every edge; the known dips are fitted and taken out, and no edge is looked for at theirs.
 *
 * `sameNoise` is the covariance of an earlier field of the same long recording, in the same noise.
 */
export function edgeField(
  design: ReadingsDesign,
  noise: NoiseParameters,
  lagS: number,
  knownDips: { readonly templates: readonly Float64Array[]; readonly onTimes: readonly OnTime[] },
  sameNoise: EdgeCovariance | null = null,
): EdgeField {
  const known = knownDips.templates;
  const { timesS } = design.series;
  const startS = timesS[0];
  const spanS = timesS[timesS.length - 1] - startS;
  const count = Math.max(2, Math.floor(spanS / STEP_S));
  const blocked = blockedPoints(startS, count, knownDips.onTimes);
  if (spanS <= EXACT_S) return { ...exactField(design, noise, lagS, known, count), blocked };
  blockGaps(blocked, timesS);
  const joint = design.jointDepths(known, noise) ?? design.jointDepths([], noise)!;
  const products = fallProducts(timesS, joint.weighted, { startS, count, lagS });
  const covariance = sameNoise ?? stretchCovariance(design, noise, lagS);
  const precisionSums = precisionsOnGrid(design.series, startS, count);
  return { startS, stepS: STEP_S, blocked, products, covariance, precisionSums };
}

function precisionsOnGrid({ timesS, noiseFactors }: WorkingSeries, startS: number, count: number): Float64Array | null {
  if (noiseFactors == null) return null;
  const sums = new Float64Array(count + 1);
  let i = 0;
  for (let k = 0; k < count; k++) {
    while (i + 1 < timesS.length && timesS[i] < startS + k * STEP_S) i += 1;
    sums[k + 1] = sums[k] + power(noiseFactors[i], -2);
  }
  return sums;
}

function exactField(
  design: ReadingsDesign,
  noise: NoiseParameters,
  lagS: number,
  known: readonly Float64Array[],
  count: number,
): Omit<EdgeField, "blocked"> {
  const startS = design.series.timesS[0];
  const found = edgeScores(design, noise, lagS, known, startS, count);
  const products = new Float64Array(count);
  const matrix = new Float64Array(count * count);
  for (let i = 0; i < count; i++) {
    const ui = found.uAmplitudesV[i];
    if (!Number.isFinite(ui)) continue;
    products[i] = found.scores[i] / ui;
    for (let j = 0; j < count; j++) {
      const uj = found.uAmplitudesV[j];
      if (Number.isFinite(uj)) matrix[i * count + j] = found.correlations![i * count + j] / (ui * uj);
    }
  }
  return {
    startS,
    stepS: STEP_S,
    products,
    covariance: { matrix, size: count, everywhere: true },
    precisionSums: null,
  };
}

function edgeScores(
  design: ReadingsDesign,
  noise: NoiseParameters,
  lagS: number,
  known: readonly Float64Array[],
  startS: number,
  count: number,
) {
  const { timesS, blockS } = design.series;
  const endS = timesS[timesS.length - 1] + 1;
  const falls = Array.from({ length: count }, (_, k) =>
    dipTemplate(timesS, blockS, [{ onsetS: startS + k * STEP_S, releaseS: endS }], plainShape(lagS)),
  );
  const { columns } = design.columns(known, falls);
  return matchedScores(design.series, columns, { common: 2 + known.length, templates: count }, noise, true);
}

/**
 * Covariance over a stretch in the middle of readings as dense as the recording's own.
 *
 * The level is known from all of the recording, up to an hour of it: where it hardly wanders, a shorter piece would tell it,
 * and every train, worse than the readings do. Farther off only the level matters, and fewer readings tell it.
 */
function stretchCovariance(design: ReadingsDesign, noise: NoiseParameters, lagS: number): EdgeCovariance {
  const { series } = design;
  const { timesS } = series;
  const intervalS = Math.max(design.intervalS, COARSEST_S);
  const marginS = Math.min((timesS[timesS.length - 1] - timesS[0] - EXACT_S) / 2, LONGEST_MARGIN_S);
  const perSecond = series.readingCounts.reduce((sum, c) => sum + c, 0) / timesS.length / design.intervalS;
  const times: number[] = [];
  const counts: number[] = [];
  for (let atS = -marginS; atS < EXACT_S + marginS; ) {
    const isFar = atS < -NEAR_MARGIN_S || atS > EXACT_S + NEAR_MARGIN_S;
    const stepS = isFar ? Math.max(intervalS, FAR_INTERVAL_S) : intervalS;
    times.push(atS);
    counts.push(perSecond * stepS);
    atS += stepS;
  }
  const stretch: WorkingSeries = {
    ...series,
    timesS: Float64Array.from(times),
    valuesV: new Float64Array(times.length),
    readingCounts: Float64Array.from(counts),
    noiseFactors: null,
  };
  const size = Math.floor(EXACT_S / STEP_S);
  const found = edgeScores(new ReadingsDesign(stretch), noise, lagS, [], 0, size);
  const matrix = new Float64Array(size * size);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) {
      matrix[i * size + j] = found.correlations![i * size + j] / (found.uAmplitudesV[i] * found.uAmplitudesV[j]);
    }
  }
  return { matrix, size, everywhere: false };
}

/** Inner products of weighted residuals with a unit fall at each grid point, in one pass back over the readings. */
function fallProducts(
  timesS: Float64Array,
  weighted: Float64Array,
  grid: { readonly startS: number; readonly count: number; readonly lagS: number },
): Float64Array {
  const { startS, count, lagS } = grid;
  const products = new Float64Array(count);
  let plain = 0;
  let decayed = 0;
  let atS = timesS[timesS.length - 1];
  let i = timesS.length - 1;
  for (let k = count - 1; k >= 0; k--) {
    const edgeS = startS + k * STEP_S;
    while (i >= 0 && timesS[i] > edgeS) {
      decayed = decayed * exponential(-(atS - timesS[i]) / lagS) + weighted[i];
      plain += weighted[i];
      atS = timesS[i];
      i -= 1;
    }
    decayed *= exponential(-(atS - edgeS) / lagS);
    atS = edgeS;
    products[k] = decayed - plain;
  }
  return products;
}
