import type { BusProfile } from "./profile.js";
import type { Uncertain } from "./quantity/quantity.js";
import type { SwitchingMark } from "./series/recording.js";

/** What is known beside the recording, and how strictly to judge. */
export interface AnalyzeOptions {
  readonly marks?: readonly SwitchingMark[] | null;
  readonly profile?: BusProfile | null;
  /** Chance that a recording without any response is given one; 0.01. */
  readonly falseAlarmRate?: number;
  /** Chance that a dip of the minimum detectable value is found; 0.95. */
  readonly power?: number;
  /** Standard uncertainty of a marked time in seconds; 0.2. */
  readonly markUncertaintyS?: number;
  /** Rhythm of the switching where the times are not marked; null when nothing is known. */
  readonly cadence?: Cadence | null;
  /** Temperature of the battery, degrees Celsius. */
  readonly temperatureC?: Uncertain | null;
  /** State of charge of the battery, 0 empty to 1 full. */
  readonly stateOfCharge?: Uncertain | null;
  /** Seed of the draws that set the error rates; the same seed gives the same result. */
  readonly seed?: number;
}

/** On- and off-times that a person kept to, and how often. */
export interface Cadence {
  readonly onS: number;
  readonly offS: number;
  readonly switchingCount?: number;
}

/**
 * Refuses options that mean nothing.
 *
 * @throws RangeError naming the option, what it must be, and what it is
 */
export function checkOptions(options: AnalyzeOptions): void {
  const { falseAlarmRate, power, markUncertaintyS, cadence, seed, marks } = options;
  must("falseAlarmRate", falseAlarmRate, "lie between 0 and 0.5, both left out", (v) => v > 0 && v < 0.5);
  must("power", power, "lie between 0.5 and 1, both left out", (v) => v > 0.5 && v < 1);
  must("markUncertaintyS", markUncertaintyS, "be 0 s or more", (v) => v >= 0);
  must("cadence.onS", cadence?.onS, "be above 0 s", (v) => v > 0);
  must("cadence.offS", cadence?.offS, "be above 0 s", (v) => v > 0);
  must("cadence.switchingCount", cadence?.switchingCount, "be a whole number from 1 on", isCount);
  must("seed", seed, "be a whole number", Number.isSafeInteger);
  must("temperatureC.value", options.temperatureC?.value, "lie between -90 and 120 C", (v) => v >= -90 && v <= 120);
  must("temperatureC.u", options.temperatureC?.u, "be 0 K or more", (v) => v >= 0);
  must("stateOfCharge.value", options.stateOfCharge?.value, "lie between 0 and 1", (v) => v >= 0 && v <= 1);
  must("stateOfCharge.u", options.stateOfCharge?.u, "be 0 or more", (v) => v >= 0);
  marks?.forEach(({ timeS }, k) => {
    must(`marks[${k}].timeS`, timeS, "be a finite number of seconds", () => true);
  });
}

function isCount(value: number): boolean {
  return Number.isSafeInteger(value) && value >= 1;
}

function must(name: string, value: number | undefined, be: string, holds: (value: number) => boolean): void {
  if (value === undefined || (Number.isFinite(value) && holds(value))) return;
  throw new RangeError(`Cannot judge a recording: ${name} must ${be}, got ${value}`);
}
