import { fromLogs } from "../noise/noise-parameters.js";
import { fitNoise, weakNoisePrior } from "../noise/restricted-likelihood.js";
import { squared } from "../statistics/portable-power.js";
import type { MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import { matchedScores } from "./matched-scores.js";
import { UNKNOWN_LAGS } from "./shape-bank.js";
import type { RefinedDepth } from "./shape-refinement.js";
import { type DipShape, dipTemplate, type OnTime, plainShape } from "./switching-template.js";

/** How far dips are looked for about the marks, seconds; how finely, and how finely at first. */
const FARTHEST_S = 3;
const STEP_S = 0.2;
const COARSE_STEP_S = 0.6;
/** Standard uncertainties of the marks by which all of them may be off together: more is not what was told of them. */
const ALLOWED = 4;
/** However well marks are known, a needle's own delay may look like so much, seconds. */
const LEAST_ALLOWED_S = 0.5;
/** Score from which on dips are clear, and the share of the gain in likelihood that must be lost at the marks. */
const CLEAR = 6;
const LOST = 0.05;
/** Logarithm of the likelihood ratio that the marks must lose by: the shifts that are tried, at a chance of 1e-5. */
const SURELY_LIKELIER = 15;

/**
 * Seconds by which all dips of a load lie after its marks, where that is clearly more than was told of the marks; null
 * where it is not: marks of another clock or recording, or something else that is switched in the load's rhythm.
 *
 * Noise that was fitted beside the marks swells with the dips that it was not shown, and hides them; so they are looked
 * for in ordinary noise of the readings' own scatter.
 */
export function marksOffS(
  { design, prior, fit, responses }: MarkedDetection,
  response: MarkedResponse,
  timeUncertaintyS: number,
  lagS: number | undefined,
): number | null {
  const { series } = design;
  const allowedS = Math.max(LEAST_ALLOWED_S, ALLOWED * timeUncertaintyS);
  const others = responses
    .filter((one) => one !== response)
    .flatMap(({ template, leftovers }) => [template, ...leftovers]);
  const noise = fromLogs(weakNoisePrior(design.scatterV, design.intervalS).meanLogs);
  const scoresOf = (tried: readonly DipShape[]) => {
    const templates = tried.map((shape) => dipTemplate(series.timesS, series.blockS, response.onTimes, shape));
    const counts = { common: 2 + others.length, templates: templates.length };
    const { columns } = design.columns(others, templates);
    return matchedScores(series, columns, counts, noise, false);
  };
  // Most dips lie at their marks, or nowhere, which a coarse look shows.
  const coarse = moved(COARSE_STEP_S, lagS);
  const { scores: coarseScores } = scoresOf(coarse);
  const likeliest = coarseScores.indexOf(Math.max(...coarseScores));
  const farthestS = Math.abs(coarse[likeliest].shiftS) + COARSE_STEP_S / 2;
  if (farthestS <= allowedS || coarseScores[likeliest] < CLEAR / 2) return null;
  const tried = moved(STEP_S, lagS);
  const { scores, amplitudesV } = scoresOf(tried);
  let best = 0;
  let within = 0;
  for (const [j, { shiftS }] of tried.entries()) {
    if (scores[j] > scores[best]) best = j;
    if (Math.abs(shiftS) <= allowedS) within = Math.max(within, scores[j]);
  }
  const lost = squared(scores[best]) - squared(within);
  if (!(scores[best] > CLEAR && lost > LOST * squared(scores[best]) && lost > squared(CLEAR) / 2)) return null;
  // What happens beside one switching alone is no dip of the others.
  const each = response.onTimes.map((one) => dipTemplate(series.timesS, series.blockS, [one], tried[best]));
  const depthsV = design.jointDepths([...each, ...others], noise)?.depthsV.slice(0, each.length);
  if (depthsV?.every((depthV) => depthV > amplitudesV[best] / 2) !== true) return null;
  const { refined } = response;
  if (refined !== null && Math.abs(movedS(refined, response.onTimes)) > allowedS) return tried[best].shiftS;
  // Wander may look so in ordinary noise: both stories are told whole, each with its own noise.
  const stories = [tried[best], { ...response.shape, shiftS: tried[best].shiftS }].map((shape) => {
    const dip = dipTemplate(series.timesS, series.blockS, response.onTimes, shape);
    return fitNoise(design.explained([dip, ...others]), prior, fit.logs).objective;
  });
  return fit.objective - Math.min(...stories) > SURELY_LIKELIER ? tried[best].shiftS : null;
}

/** Plain dips of each lag that a meter may have, moved by each step from the marks. */
function moved(stepS: number, lagS: number | undefined): readonly DipShape[] {
  const lags = lagS === undefined ? UNKNOWN_LAGS.map(({ value }) => value) : [lagS];
  const steps = Math.round(FARTHEST_S / stepS);
  return lags.flatMap((lag) =>
    Array.from({ length: 2 * steps + 1 }, (_, k) => ({ ...plainShape(lag), shiftS: (k - steps) * stepS })),
  );
}

/** Mean seconds by which the fitted switchings lie after the marked ones. */
function movedS(refined: RefinedDepth, marked: readonly OnTime[]): number {
  const sum = refined.onTimes.reduce(
    (total, { onsetS, releaseS }, k) => total + onsetS + releaseS - marked[k].onsetS - marked[k].releaseS,
    0,
  );
  return sum / (2 * marked.length);
}
