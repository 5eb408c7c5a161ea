import { type MeasuredSteps, measuredDip } from "../estimation/dip-resistances.js";
import { measuredChange } from "../estimation/measured-current.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Recording } from "../series/recording.js";
import { normalSurvival } from "../statistics/distribution.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import type { JudgedResponse } from "./judged-response.js";

/**
 * Adds what a measured current tells of a response.
 *
 * Where at least half of the switchings are clear steps of voltage and current (each depth known to 5 %), depth and
 * error rate are those of the steps themselves: no model of noise or shape is needed to see them.
 */
export function withMeasurement(
  judged: JudgedResponse,
  recording: Recording,
  steps: MeasuredSteps | null,
): JudgedResponse {
  if (recording.current === undefined) return judged;
  const { onTimes } = judged.response;
  const measuredA = measuredChange(recording.current, onTimes, judged.profile?.kind ?? null);
  const clear = onTimes.flatMap(({ onsetS }) => measuredDip(steps, onsetS, 0.3) ?? []);
  if (clear.length === 0 || clear.length < onTimes.length / 2) return { ...judged, measuredA };
  const mean = clear.reduce((sum, { depth }) => sum + depth.value, 0) / clear.length;
  const within = Math.max(...clear.map(({ depth }) => depth.u));
  const scatter =
    clear.length < 2
      ? 0
      : Math.sqrt(clear.reduce((sum, { depth }) => sum + squared(depth.value - mean), 0) / (clear.length - 1));
  const score = clear.reduce((sum, { depth }) => sum + depth.value / depth.u, 0) / Math.sqrt(clear.length);
  const depth = normalQuantity(mean, rootSumSquares(within, scatter), "V", "measured-current");
  return {
    ...judged,
    measuredA,
    depth,
    pValue: Math.min(judged.pValue, normalSurvival(score)),
    response: {
      ...judged.response,
      depth: { means: Float64Array.of(mean), sds: Float64Array.of(depth.u), weights: Float64Array.of(1) },
    },
  };
}
