import { noiseFactors } from "../noise/noise-factors.js";
import { fromLogs, type NoiseParameters } from "../noise/noise-parameters.js";
import { posteriorNodes } from "../noise/posterior-nodes.js";
import { fitNoise, type NoiseFit, type NoisePrior, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { WorkingSeries } from "../series/working-series.js";
import {
  heaviest,
  type LoadWork,
  type MarkedContext,
  type MarkedLoad,
  refineWork,
  scoredColumns,
  scoresOf,
  shapeWeights,
  startWork,
} from "./load-work.js";
import { type MarkedResponse, respond } from "./marked-response.js";
import { ReadingsDesign } from "./readings-design.js";
import { windowPrior } from "./wander-prior.js";

export interface MarkedDetection {
  readonly design: ReadingsDesign;
  readonly prior: NoisePrior;
  readonly fit: NoiseFit;
  readonly responses: readonly MarkedResponse[];
}

/**
 * Score above which a response shows its own shape. Below it the mean over the bank errs less (at five standard
 * deviations by a tenth), above it a fitted shape; around it the two are equal.
 */
const SHAPE_SHOWS = 8;

/** Fits of shapes and noise in turn, at the most; they end where the likelihood gains less than this. */
const MOST_ROUNDS = 8;
const SETTLED = 1;

/**
 * Judges loads whose switching times are marked.
 *
 * Noise and dips are told apart from the same readings: the noise by restricted likelihood beside the dips, each depth
 * by generalised least squares, averaged over the shapes of the bank and over the noise's own posterior.
 *
 * Where the scatter of the readings swells, the edges of clear dips may be what swells it: then the loads are judged in
 * steady noise first, and what is left beside their dips says how the noise swells.
 */
export function detectMarked(
  series: WorkingSeries,
  loads: readonly MarkedLoad[],
  context: MarkedContext,
): MarkedDetection {
  if (series.noiseFactors == null) return judged(series, loads, context);
  const steady = judged({ ...series, noiseFactors: null, noiseRatio: 1 }, loads, context);
  const clear = steady.responses.filter(({ refined }) => refined !== null);
  if (clear.length === 0) return judged(series, loads, context);
  const { timesS, valuesV, readingCounts } = series;
  const left = Float64Array.from(valuesV);
  for (const { refined } of clear) {
    for (let i = 0; i < left.length; i++) left[i] -= refined!.depthV * refined!.template[i];
  }
  const unsteady = noiseFactors(timesS, left, readingCounts);
  if (unsteady === null) return steady;
  return judged({ ...series, noiseFactors: unsteady.factors, noiseRatio: unsteady.ratio }, loads, context);
}

/** The same in noise that swells as the series says. */
function judged(series: WorkingSeries, loads: readonly MarkedLoad[], context: MarkedContext): MarkedDetection {
  const design = new ReadingsDesign(series);
  const prior = windowPrior(design, context.wholeNoise ?? null);
  let { works, fit } = settled(design, prior, loads, context, null);
  if (wandersWildly(fit, prior)) {
    const held = settled(design, prior, loads, context, heldNoise(design, works));
    if (held.fit.objective < fit.objective - SURELY_LIKELIER) ({ works, fit } = held);
  }
  const nodes = posteriorNodes(design.explained(works.map(({ template }) => template)), prior, fit);
  return { design, prior, fit, responses: works.map((work) => respond(design, works, work, fit, nodes, context)) };
}

/** Standard deviations of the prior beyond which wander may be clear dips whose shapes and times were not found. */
const WILD = 3;
/** By how much another story must be likelier: no fit of a dozen parameters to noise gains as much. */
const SURELY_LIKELIER = 50;
/** Noise in which clear dips are looked for anew, as a share of the deepest. */
const HELD_SHARE = 0.05;

/** Coloured part, random walk or bend, in the order of `toLogs`. */
function wandersWildly({ logs }: NoiseFit, { meanLogs, sdLogs }: NoisePrior): boolean {
  return [1, 3, 4].some((k) => logs[k] > meanLogs[k] + WILD * sdLogs[k]);
}

/** Ordinary noise in which the deepest dip stands out by twenty times. */
function heldNoise(design: ReadingsDesign, works: readonly LoadWork[]): NoiseParameters {
  const deepestV = works.reduce((most, { depthV }) => Math.max(most, Math.abs(depthV)), 0);
  return fromLogs(weakNoisePrior(Math.max(design.scatterV, HELD_SHARE * deepestV), design.intervalS).meanLogs);
}

/** Loads and noise fitted in turn. `held` is a noise in which shapes and times are looked for first; null to fit it. */
function settled(
  design: ReadingsDesign,
  prior: NoisePrior,
  loads: readonly MarkedLoad[],
  context: MarkedContext,
  held: NoiseParameters | null,
): { readonly works: LoadWork[]; readonly fit: NoiseFit } {
  const works = loads.map((load) => startWork(design.series, load, context));
  const dips = () => works.map((work) => work.template);

  // The noise beside the most expected shapes, then beside the likeliest ones, then beside the fitted ones.
  let fit = held === null ? fitNoise(design.explained(dips()), prior) : null;
  const noise = held ?? fit!.noise;
  for (const work of works) {
    const found = scoresOf(scoredColumns(design, works, work, work.templates), noise, false);
    const likely = heaviest(shapeWeights(found, work.bank));
    work.shape = work.bank[likely].shape;
    work.template = work.templates[likely];
    work.depthV = found.amplitudesV[likely];
    work.shapeShows = found.scores[likely] > SHAPE_SHOWS;
  }
  if (held !== null) for (const work of works) if (work.shapeShows) refineWork(design, works, work, held, context);
  fit = fitNoise(design.explained(dips()), prior, fit?.logs);
  for (let round = 0; round < MOST_ROUNDS && works.some((work) => work.shapeShows); round++) {
    const before = works.map((work) => ({ ...work }));
    for (const work of works) if (work.shapeShows) refineWork(design, works, work, fit.noise, context);
    const next = fitNoise(design.explained(dips()), prior, fit.logs);
    // In noise grown small a fit may settle beside a switching: then the one before is better.
    if (round > 0 && next.objective > fit.objective) {
      for (const [k, work] of works.entries()) Object.assign(work, before[k]);
      break;
    }
    const gain = fit.objective - next.objective;
    fit = next;
    if (round > 0 && gain < SETTLED) break;
  }
  return { works, fit };
}
