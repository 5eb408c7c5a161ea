import type { OnTime } from "../detection/switching-template.js";
import type { Recording } from "../series/recording.js";
import { medianOf } from "../series/working-series.js";
import { squared } from "../statistics/portable-power.js";

/** Fewest readings on either side. */
const FEWEST = 3;

/**
 * Doubt in volts that all readings of a load's on-times share against those beside them; 0 for none.
 *
 * Where a needle is filmed, a hand that shades the dial or turns the phone for as long as it holds the switch makes those
 * readings wrong together. Each states that it may be wrong, but no number of them makes their mean surer: what the typical
 * reading of one side is doubted beyond that of the other, as a variance, is the doubt of all.
 */
export function unequalDoubtV(
  { timesS, readingUncertaintiesV: uncertaintiesV }: Recording,
  own: readonly OnTime[],
  all: readonly OnTime[],
): number {
  if (uncertaintiesV === undefined) return 0;
  const isOn = (times: readonly OnTime[], t: number) =>
    times.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
  const on = uncertaintiesV.filter((_, i) => isOn(own, timesS[i]));
  const off = uncertaintiesV.filter((_, i) => !isOn(all, timesS[i]));
  if (on.length < FEWEST || off.length < FEWEST) return 0;
  const [onV, offV] = [medianOf(on), medianOf(off)];
  return Math.sqrt(Math.abs(squared(onV) - squared(offV)));
}
