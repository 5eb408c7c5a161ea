import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { WorkingSeries } from "../series/working-series.js";
import { normalQuantile } from "../statistics/distribution.js";
import { squared } from "../statistics/portable-power.js";
import type { MarkedResponse } from "./marked-response.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import type { FoundTrain } from "./search.js";
import { dipTemplate } from "./switching-template.js";

/**
 * Whether dips that were found beside the marks are a load's own, seen with their times a little wrong: faint dips are found
 * by a search wherever noise makes the most of a part of them. Of a load whose dips were fitted and taken out before the search
 * nothing is left to be found.
 *
 * Both stories are told of all readings in the noise of the search. Beside the load's dips where they were marked, the train
 * must be less than a search would find. And these dips, whose times were told, must be likelier than the train by more than
 * it costs to have sought: each counts beyond the score from which on such as it are believed.
 */
export function explainedByMarks(
  series: WorkingSeries,
  noise: NoiseParameters,
  { template, score, criticalShare }: Pick<FoundTrain, "template" | "score" | "criticalShare">,
  { refined, onTimes, shape }: Pick<MarkedResponse, "refined" | "onTimes" | "shape">,
  falseAlarmRate: number,
): boolean {
  if (refined !== null) return false;
  const marked = dipTemplate(series.timesS, series.blockS, onTimes, shape);
  const design = new ReadingsDesign(series);
  const scoreOf = (one: Float64Array, beside: readonly Float64Array[]) => {
    const { columns } = design.columns(beside, [one]);
    const counts = { common: 2 + beside.length, templates: 1 };
    return matchedScores(series, columns, counts, noise, false).scores[0];
  };
  const foundFrom = criticalShare * score;
  const alone = scoreOf(template, []);
  // The search has a scale of its own: it counts coarse digits and how its like scatter too.
  if (!((score * scoreOf(template, [marked])) / alone < foundFrom)) return false;
  const beyondMarked = squared(scoreOf(marked, [])) - squared(normalQuantile(1 - falseAlarmRate));
  return beyondMarked > squared(alone) - squared(foundFrom) + CLEARLY;
}

/** Twice the logarithm of the odds, 400 to 1, at which the load's own dips are believed. Chosen. */
const CLEARLY = 12;
