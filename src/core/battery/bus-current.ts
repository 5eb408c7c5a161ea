import { firstAtOrAfter, type OnTime } from "../detection/switching-template.js";
import { currentAtVoltage, loadLaw } from "../estimation/load-kind.js";
import { RATING_TOLERANCE_FRACTION } from "../estimation/source-resistance.js";
import { rectangularU } from "../estimation/uncertainty-budget.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { medianOf } from "../series/working-series.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/** Current of the whole bus with every load of the profile on. */
export interface BusCurrent extends Uncertain {
  /** Whether the current that flows with the switched loads off was measured; if not, only ratings are counted. */
  readonly baseMeasured: boolean;
}

/** Zero error of a clamp meter, amperes, as a standard uncertainty. Common practice, no source. */
const CLAMP_ZERO_A = 0.2;

/**
 * Current that flows while no load is switched on, amperes; null where no current was measured.
 *
 * Median of the readings outside the on-times, counted positive; its uncertainty is the clamp's zero and 1 % of it.
 */
export function baseCurrent(recording: Recording, onTimes: readonly OnTime[]): Uncertain | null {
  const { current } = recording;
  if (current === undefined || current.timesS.length === 0) return null;
  const isOn = new Uint8Array(current.timesS.length);
  for (const { onsetS, releaseS } of onTimes) {
    isOn.fill(1, firstAtOrAfter(current.timesS, onsetS - 0.5), firstAtOrAfter(current.timesS, releaseS + 1));
  }
  const stride = Math.max(1, Math.floor(current.timesS.length / 20_000));
  const quiet: number[] = [];
  for (let i = 0; i < isOn.length; i += stride) if (isOn[i] === 0) quiet.push(current.currentsA[i]);
  if (quiet.length === 0) return null;
  const value = Math.abs(medianOf(Float64Array.from(quiet)));
  return { value, u: rootSumSquares(CLAMP_ZERO_A, 0.01 * value) };
}

/**
 * Whole current of the bus at a voltage: what was measured with the loads off plus every load's rating; null where no
 * load is rated and nothing was measured, or where some load has no rating.
 *
 * All loads see the same voltage: what is uncertain of it adds up over them before it is squared.
 */
export function busCurrent(profile: BusProfile | null, base: Uncertain | null, busV: Uncertain): BusCurrent | null {
  const loads = profile?.loads ?? [];
  if (loads.some(({ rated }) => rated === undefined)) return null;
  if (loads.length === 0 && base === null) return null;
  let sum = base?.value ?? 0;
  let variance = squared(base?.u ?? 0);
  let perVolt = 0;
  for (const load of loads) {
    const { value, u, perVolt: own } = ratedCurrent(load, busV.value);
    sum += value;
    variance += u * u;
    perVolt += own;
  }
  return { value: sum, u: rootSumSquares(Math.sqrt(variance), perVolt * busV.u), baseMeasured: base !== null };
}

/** A load's current by its rating, and how it changes with the voltage: up by Ohm's law, down at constant power. */
function ratedCurrent(load: LoadProfile, busV: number): Uncertain & { readonly perVolt: number } {
  const rated = load.rated!;
  const law = loadLaw(load.kind, rated);
  const value = currentAtVoltage(law, busV);
  const step = 1e-3 * busV;
  return {
    value,
    u: value * rectangularU(rated.toleranceFraction ?? RATING_TOLERANCE_FRACTION),
    perVolt: (currentAtVoltage(law, busV + step) - currentAtVoltage(law, busV - step)) / (2 * step),
  };
}
