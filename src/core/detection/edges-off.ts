import type { MarkedResponse } from "./marked-response.js";

/** As for marks that are off all together (`marks-off.ts`): standard uncertainties of the marks, and the least of it, seconds. */
const ALLOWED = 4;
const LEAST_ALLOWED_S = 0.5;
const FEWEST_OFF = 2;

/**
 * Whether half of a load's switchings or more lie clearly further from their marks than was told of these, each its own way;
 * of dips that are clear enough to show their times.
 *
 * What another load does in about the same rhythm is fitted by moving every mark by more than its uncertainty ever makes:
 * such dips answer to no mark.
 */
export function mostOff(responses: readonly MarkedResponse[], timeUncertaintyS: number): boolean {
  const allowedS = Math.max(LEAST_ALLOWED_S, ALLOWED * timeUncertaintyS);
  const misses = responses.flatMap(({ refined, onTimes }) =>
    onTimes.flatMap(({ onsetS, releaseS, isReleaseTold }, k) => {
      const { onsetS: onS, releaseS: offS } = refined?.onTimes[k] ?? { onsetS, releaseS };
      return [onS - onsetS, ...(isReleaseTold === false ? [] : [offS - releaseS])];
    }),
  );
  const offCount = misses.filter((missS) => Math.abs(missS) > allowedS).length;
  return offCount >= FEWEST_OFF && 2 * offCount >= misses.length;
}
