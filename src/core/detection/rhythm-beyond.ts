import type { MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import { shiftOf, timesOf } from "./single-dips.js";
import { dipTemplate, type OnTime } from "./switching-template.js";

/** Places of the rhythm that are looked at before the first and after the last switching. */
const PLACES = 2;
/** Share of the time on by which an onset may miss an even rhythm. */
const EVEN = 1 / 3;
/** Normal quantile of the chance, 1 %, that noise passes for such dips. */
const SURE = 2.33;

/**
 * Whether the voltage dips on in the rhythm of a load's switchings where nobody switched it: then something that cycles on
 * the bus by itself may have made the response.
 *
 * Only an even rhythm can be mistaken so. One depth is fitted to the places before and after the switchings beside the
 * response: it must be more than half of the response's and larger than nothing (1 %), so that a load that does respond
 * is doubted in at most one case of a hundred.
 */
export function rhythmGoesOn(detection: MarkedDetection, response: MarkedResponse): boolean {
  const { design, fit, responses } = detection;
  const { timesS, blockS } = design.series;
  const places = placesBeyond(timesOf(response), timesS[0], timesS[timesS.length - 1]);
  if (places.length === 0) return false;
  const beyond = dipTemplate(timesS, blockS, places, { ...response.shape, shiftS: shiftOf(response) });
  const others = responses.filter((one) => one !== response).map((one) => one.template);
  const joint = design.jointDepths([response.template, beyond, ...others], fit.noise);
  if (joint === null) return false;
  const [ownV, beyondV] = joint.depthsV;
  const uBeyondV = Math.sqrt(joint.covarianceV2[2 + others.length + 1]);
  return beyondV > ownV / 2 && beyondV > SURE * uBeyondV;
}

/** On-times that an even rhythm would have before the first and after the last one, within the readings; none for an uneven one. */
function placesBeyond(onTimes: readonly OnTime[], startS: number, endS: number): OnTime[] {
  const n = onTimes.length;
  if (n < 2) return [];
  const firstS = onTimes[0].onsetS;
  const periodS = (onTimes[n - 1].onsetS - firstS) / (n - 1);
  const onS = onTimes.reduce((sum, { onsetS, releaseS }) => sum + releaseS - onsetS, 0) / n;
  if (onTimes.some(({ onsetS }, k) => Math.abs(onsetS - firstS - k * periodS) > EVEN * onS)) return [];
  return Array.from({ length: PLACES }, (_, k) => [-k - 1, n + k])
    .flat()
    .map((k) => ({ onsetS: firstS + k * periodS, releaseS: firstS + k * periodS + onS }))
    .filter(({ onsetS, releaseS }) => onsetS > startS && releaseS < endS);
}
