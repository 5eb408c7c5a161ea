import { fitNoise } from "../noise/restricted-likelihood.js";
import { normalSurvival } from "../statistics/distribution.js";
import type { MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import { shiftOf, timesOf } from "./single-dips.js";
import { dipTemplate, type OnTime, plainShape } from "./switching-template.js";

/**
 * Chance that noise or wander makes all but one end of the few dips that were searched for, that one being a level that
 * shifted once and stayed so; 0 for more dips than a step could pass for.
 *
 * A search puts the other ends where noise or a bend of the level suits them best. All stories are told whole, each with
 * its own noise: the dips, and a step at each of their ends. What the dips are likelier by than the best step, as a normal
 * score (Wilks's theorem), counts for as many places as there are readings (Bonferroni's bound: more than are
 * independent). 1 where the end of a single dip is not seen.
 */
export function stepPValue({ design, prior, fit, responses }: MarkedDetection, response: MarkedResponse): number {
  const { timesS, blockS } = design.series;
  const dips = timesOf(response);
  if (dips.length > FEW) return 0;
  const endS = timesS[timesS.length - 1];
  if (dips.length === 1 && dips[0].releaseS > endS - SEEN_S) return 1;
  const shape = { ...plainShape(response.shape.lagS), shiftS: shiftOf(response) };
  const others = responses.filter((one) => one !== response).map(({ template }) => template);
  const objectiveOf = (template: Float64Array) =>
    fitNoise(design.explained([template, ...others]), prior, fit.logs).objective;
  const steps = dips.flatMap(({ onsetS, releaseS }): OnTime[] => [
    { onsetS, releaseS: endS + FAR_S },
    { onsetS: timesS[0] - FAR_S, releaseS },
  ]);
  const step = Math.min(...steps.map((one) => objectiveOf(dipTemplate(timesS, blockS, [one], shape))));
  const gain = step - objectiveOf(response.template);
  return Math.min(1, timesS.length * normalSurvival(Math.sqrt(2 * Math.max(gain, 0))));
}

/**
 * Most dips of which a single step may make so much that noise makes the rest. Chosen: of three equal dips in a rhythm it
 * makes too little, and asking them too leaves out true ones where the level wanders.
 */
const FEW = 2;
/** How much of the level after a release must be seen, seconds. Chosen. */
const SEEN_S = 2;
/** So far outside the readings that no lag reaches into them, seconds. */
const FAR_S = 100;
