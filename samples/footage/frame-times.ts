import type { RandomSource } from "../simulator/random-source.js";
import type { FootagePlan } from "./footage-plan.js";

/** Ticks of the container's clock per second, as phones use. Common practice, no source. */
export const TICKS_PER_S = 90_000;

/** Presentation stamps of a clip in ticks: regular, or jittered with dropped frames and two gaps. */
export function frameTicks(plan: FootagePlan, random: RandomSource): readonly number[] {
  const { timing, frameRateHz, durationS } = plan;
  const ticks: number[] = [];
  for (let k = 0; k < Math.round(durationS * frameRateHz); k++) {
    const timeS = k / frameRateHz;
    const dropped = random.uniform() < timing.droppedShare;
    const jitterS = k === 0 ? 0 : timing.jitterS * (2 * random.uniform() - 1);
    if (dropped && k > 0) continue;
    ticks.push(Math.round((timing.firstStampS + timeS + jitterS) * TICKS_PER_S));
  }
  return ticks;
}
