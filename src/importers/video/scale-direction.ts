import { type BatteryProfile, type Chemistry, type MeterProfile, REST_VOLTAGE } from "../../core/index.js";

/** Which way the volts of a scale rise round the dial, as a person sees it. */
export type ScaleDirection = NonNullable<MeterProfile["scaleRises"]>;

/**
 * Voltage of a working cell over that of a charged one at rest: at the end of its discharge (1.68 V of lead-acid, 1.0 V of
 * Ni-Cd, 2.7 V of Li-ion) and at the end of its charge. Common practice, no source.
 */
const WORKING_SHARE = { least: 0.8, most: 1.15 } as const;
/** A needle at rest lies at an end of the scale, whichever end that is: this near to it, it tells nothing. */
const REST_SHARE = 0.03;

/**
 * Which way the volts of a scale rise that no mark tells: as the meter's profile says; else clockwise, but only where the
 * battery of the profile can have the voltage that the needle then shows and not the one that it would show the other way
 * round. Null where neither tells: a dip on a dial read the wrong way round is a rise, and its load would be a dead one.
 */
export function scaleDirection(
  clockwiseV: number,
  meter: MeterProfile & { readonly fullScaleV: number },
  battery: BatteryProfile | undefined,
): ScaleDirection | null {
  if (meter.scaleRises !== undefined) return meter.scaleRises;
  const { chemistry, cells } = battery ?? {};
  if (chemistry === undefined || cells === undefined) return null;
  const { fullScaleV, zeroV = 0 } = meter;
  const otherV = zeroV + fullScaleV - clockwiseV;
  if (Math.min(clockwiseV, otherV) - zeroV < REST_SHARE * (fullScaleV - zeroV)) return null;
  return canStandAt(clockwiseV, chemistry, cells) && !canStandAt(otherV, chemistry, cells) ? "clockwise" : null;
}

function canStandAt(volts: number, chemistry: Chemistry, cells: number): boolean {
  const chargedV = REST_VOLTAGE[chemistry].chargedV * cells;
  return volts >= WORKING_SHARE.least * chargedV && volts <= WORKING_SHARE.most * chargedV;
}
