import { type NoiseParameters, toLogs } from "../noise/noise-parameters.js";
import { fitNoise, restrictedObjective, weakNoisePrior } from "../noise/restricted-likelihood.js";
import type { WorkingSeries } from "../series/working-series.js";
import { logarithm } from "../statistics/portable-exponential.js";
import { squared } from "../statistics/portable-power.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import type { FoundTrain } from "./search.js";
import { partOf } from "./search-noise.js";
import { dipTemplate, firstAtOrAfter, plainShape } from "./switching-template.js";

/**
 * Whether the level may have wandered at dips that were searched for, more than elsewhere, and made them: whether they are not
 * clearly likelier than that.
 *
 * The noise of a search is that of the whole recording, so a level that wanders for a while only makes dips of its wander.
 * Both stories are told of the stretch about the dips: the dips in the noise of the whole, and no such dips in a noise of its
 * own. `others` are the columns of other trains, which both stories hold. The dips were the best of very many that were
 * tried there, and must be likelier by as much.
 */
export function mayBeWander(
  series: WorkingSeries,
  noise: NoiseParameters,
  { onTimes, pValue, template }: Pick<FoundTrain, "onTimes" | "pValue" | "template">,
  others: readonly Float64Array[],
): boolean {
  const start = firstAtOrAfter(series.timesS, onTimes[0].onsetS - BESIDE_S);
  const end = firstAtOrAfter(series.timesS, onTimes[onTimes.length - 1].releaseS + BESIDE_S);
  const part = partOf(series, start, end);
  const cut = (one: Float64Array) => one.subarray(start, end);
  const design = new ReadingsDesign(part);
  const beside: Float64Array[] = [];
  for (const one of others.map(cut)) {
    const { columns } = design.columns(beside, [one]);
    const told = matchedScores(part, columns, { common: 2 + beside.length, templates: 1 }, noise, false);
    // A column that others make up tells nothing more.
    if (Number.isFinite(told.uAmplitudesV[0])) beside.push(one);
  }
  const shapes = SHAPES.map((shape) => dipTemplate(part.timesS, part.blockS, onTimes, shape));
  const own = [...shapes, cut(template)];
  const { columns } = design.columns(beside, own);
  const counts = { common: 2 + beside.length, templates: own.length };
  const score = Math.max(...matchedScores(part, columns, counts, noise, false).scores);
  const readings = design.explained(beside);
  const prior = unheld(design);
  const byWhole = restrictedObjective(readings, toLogs(noise), prior);
  const starts = [toLogs(noise), weakNoisePrior(design.scatterV, design.intervalS).meanLogs];
  const byItself = Math.min(...starts.map((logs) => fitNoise(readings, prior, logs).objective));
  // Where the level hardly wanders, the whole recording tells it better than the stretch does: its chance counts what was tried.
  const evidence = Math.max(squared(score) / 2 - TRIED, -logarithm(pValue));
  return !(evidence >= byWhole - byItself);
}

/** Seconds beside the dips that belong to the stretch. Chosen. */
const BESIDE_S = 15;
/**
 * Logarithm of the number of trains that a search tries in such a stretch: some 60,000 that are not all but the same. Of
 * simulated recordings, wander made up to 11 in most, up to 15 in some; dips that a search just finds make 10 to 20.
 */
const TRIED = 11;

/**
 * Settled at once, after an inrush, and with what the battery gives way by: the true shape lies between. Of strong dips only the
 * one that is fitted is near enough.
 */
const SHAPES = [
  plainShape(0.35),
  { ...plainShape(0.35), inrush: 0.5, settleS: 2.5 },
  { ...plainShape(0.35), polarization: 0.5, polarizationS: 20 },
];

/** Next to no knowledge of how the level wanders: what it did elsewhere tells nothing here. */
function unheld(design: ReadingsDesign) {
  const { meanLogs } = weakNoisePrior(design.scatterV, design.intervalS);
  return { meanLogs, sdLogs: Float64Array.of(2, 25, 1, 25, 25) };
}
