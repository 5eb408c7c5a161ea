import type { LimitsOf } from "../analysis.js";
import type { WorkingSeries } from "../series/working-series.js";
import type { EdgeField } from "./edge-field.js";
import { trainEnergy, trainSteps } from "./train-scan.js";

/** How much larger the noise is at its worst than in the middle of the recording: a load may have been switched then. */
export function worstSize({ noiseFactors }: WorkingSeries): number {
  if (noiseFactors == null) return 1;
  const most = noiseFactors.reduce((top, factor) => Math.max(top, factor), 0);
  return Math.max(1, most / Math.min(1, noiseFactors[noiseFactors.length >> 1]));
}

const TYPICAL_CADENCE = { onS: 5, offS: 5, switchingCount: 3 };

/** An ordinary train in the middle of the recording, and the standard uncertainty of its depth, volts. */
export function typicalTrain(
  field: EdgeField,
  cadence: { readonly onS: number; readonly offS: number; readonly switchingCount?: number } | null,
): { readonly uDepthV: number; readonly limitsOf: LimitsOf | null } {
  const { onS, offS, switchingCount = 3 } = cadence ?? TYPICAL_CADENCE;
  const rhythm = {
    onSteps: Math.max(2, Math.round(onS / field.stepS)),
    offSteps: Math.max(2, Math.round(offS / field.stepS)),
    rarity: 0,
  };
  for (let count = switchingCount; count >= 1; count--) {
    const steps = trainSteps(rhythm, count);
    if (steps >= field.covariance.size - 1) continue;
    const first = Math.floor((field.covariance.size - steps) / 2);
    const energy = trainEnergy(field, { rhythm, switchingCount: count, first });
    if (!(energy > 0)) break;
    return { uDepthV: 1 / Math.sqrt(energy), limitsOf: { switchingCount: count, onS, offS } };
  }
  return { uDepthV: Number.POSITIVE_INFINITY, limitsOf: null };
}
