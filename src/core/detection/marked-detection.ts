import { posteriorNodes } from "../noise/posterior-nodes.js";
import { fitNoise, type NoiseFit, type NoisePrior } from "../noise/restricted-likelihood.js";
import type { WorkingSeries } from "../series/working-series.js";
import {
  heaviest,
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

/**
 * Judges loads whose switching times are marked.
 *
 * Noise and dips are told apart from the same readings: the noise by restricted likelihood beside the dips, each depth
 * by generalised least squares, averaged over the shapes of the bank and over the noise's own posterior.
 */
export function detectMarked(
  series: WorkingSeries,
  loads: readonly MarkedLoad[],
  context: MarkedContext,
): MarkedDetection {
  const design = new ReadingsDesign(series);
  const prior = windowPrior(design, context.wholeNoise ?? null);
  const works = loads.map((load) => startWork(series, load, context));
  const dips = () => works.map((work) => work.template);

  // The noise beside the most expected shapes, then beside the likeliest ones, then beside the fitted ones.
  let fit = fitNoise(design.explained(dips()), prior);
  for (const work of works) {
    const found = scoresOf(scoredColumns(design, works, work, work.templates), fit.noise, false);
    const likely = heaviest(shapeWeights(found, work.bank));
    work.shape = work.bank[likely].shape;
    work.template = work.templates[likely];
    work.depthV = found.amplitudesV[likely];
    work.shapeShows = found.scores[likely] > SHAPE_SHOWS;
  }
  fit = fitNoise(design.explained(dips()), prior, fit.logs);
  for (let round = 0; round < 2 && works.some((work) => work.shapeShows); round++) {
    for (const work of works) if (work.shapeShows) refineWork(design, works, work, fit, context);
    fit = fitNoise(design.explained(dips()), prior, fit.logs);
  }

  const nodes = posteriorNodes(design.explained(dips()), prior, fit);
  return { design, prior, fit, responses: works.map((work) => respond(design, works, work, fit, nodes, context)) };
}
