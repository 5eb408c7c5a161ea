import type { PlanConditions } from "../core/index.js";
import { requireBattery } from "./history.js";
import { withHistory } from "./history-store.js";

/** Latest recordings whose noise is averaged. */
const NOISE_RECORDINGS = 5;

/**
 * Source resistance of the battery's latest recording that tells one, and the middle noise of its latest recordings.
 *
 * @throws InputError for a battery that the history does not hold.
 */
export function latestOfBattery(
  store: string,
  battery: string,
): { readonly source: PlanConditions["source"]; readonly noiseV: number | null } {
  return withHistory(store, false, (history) => {
    requireBattery(
      battery,
      history.batteries().map(({ id }) => id),
      history.place,
    );
    const resistances = [...history.readings(["source-resistance"], battery)].sort((a, b) => b.atS - a.atS);
    const latest = resistances[0];
    const noises: number[] = [];
    for (const { hash } of resistances.slice(0, NOISE_RECORDINGS)) {
      const sigmaV = history.recordingsBy(hash)[0]?.sigmaV ?? null;
      if (sigmaV !== null && sigmaV > 0) noises.push(sigmaV);
    }
    noises.sort((a, b) => a - b);
    return {
      source: latest === undefined ? null : { value: latest.value, u: latest.u, from: "history" },
      noiseV: noises[noises.length >> 1] ?? null,
    };
  });
}
