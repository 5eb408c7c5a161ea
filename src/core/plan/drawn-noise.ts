import { exponential } from "../statistics/portable-exponential.js";
import type { RandomGenerator } from "../statistics/random.js";
import type { PlannedStretch } from "./planned-stretch.js";

/** Noise and wander of a planned stretch, volts, drawn from its noise model. */
export function drawnNoise({ sampled, noise }: PlannedStretch, random: RandomGenerator): Float64Array {
  const { timesS, readingCounts } = sampled;
  let coloured = noise.colouredV * random.normal();
  let level = 0;
  let slope = 0;
  return timesS.map((timeS, i) => {
    const dt = i === 0 ? 0 : timeS - timesS[i - 1];
    const decay = exponential(-dt / noise.colouredTimeS);
    coloured = decay * coloured + noise.colouredV * Math.sqrt(1 - decay * decay) * random.normal();
    level += slope * dt + noise.walkVPerSqrtS * Math.sqrt(dt) * random.normal();
    slope += noise.bendVPerS15 * Math.sqrt(dt) * random.normal();
    return coloured + level + (noise.whiteV / Math.sqrt(readingCounts[i])) * random.normal();
  });
}
