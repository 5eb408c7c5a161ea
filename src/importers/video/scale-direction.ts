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
/** How far beyond its end stroke a zero stop may stand, shares of the scale. */
const STOP_SHARE = 0.1;
/**
 * How far power drives a needle from its zero stop, shares of the scale, at the least. A bus whose charger is taken off
 * falls by less: a needle near the full end of its scale is not taken for one at rest.
 */
const POWERED_SHARE = 0.35;

/** Which way volts rise, and what tells it. */
export interface DirectionTold {
  readonly rises: ScaleDirection;
  readonly by: "profile" | "battery" | "power-up";
}

/**
 * Which way the volts of a scale rise that no mark tells: as the meter's profile says; else away from the end at which the
 * needle rested before the bus had power (`poweredUp`); else clockwise, but only where the battery of the profile can have
 * the voltage that the needle then shows and not the one that it would show the other way round. Null where none tells, or
 * the battery cannot have the voltage: a dip on a dial read the wrong way round is a rise, and its load would be a dead one.
 */
export function scaleDirection(
  clockwiseV: number,
  meter: MeterProfile & { readonly fullScaleV: number },
  battery: BatteryProfile | undefined,
  poweredUp: ScaleDirection | null,
): DirectionTold | null {
  if (meter.scaleRises !== undefined) return { rises: meter.scaleRises, by: "profile" };
  const { chemistry, cells } = battery ?? {};
  const { fullScaleV, zeroV = 0 } = meter;
  const otherV = zeroV + fullScaleV - clockwiseV;
  const isKnown = chemistry !== undefined && cells !== undefined;
  if (poweredUp !== null) {
    const volts = poweredUp === "clockwise" ? clockwiseV : otherV;
    return !isKnown || canStandAt(volts, chemistry, cells) ? { rises: poweredUp, by: "power-up" } : null;
  }
  if (!isKnown || Math.min(clockwiseV, otherV) - zeroV < REST_SHARE * (fullScaleV - zeroV)) return null;
  if (!canStandAt(clockwiseV, chemistry, cells) || canStandAt(otherV, chemistry, cells)) return null;
  return { rises: "clockwise", by: "battery" };
}

/**
 * Which way the volts rise where a needle that lay `before` along its scale lies `now`, shares from its first stroke
 * clockwise: from the end at which it rested without power into the scale. Null where it did not.
 */
export function powerUpDirection(before: number, now: number): ScaleDirection | null {
  if (isPowerUp(before, now)) return "clockwise";
  return isPowerUp(1 - before, 1 - now) ? "anticlockwise" : null;
}

function isPowerUp(before: number, now: number): boolean {
  return before > -STOP_SHARE && before < REST_SHARE && now - before > POWERED_SHARE && now < 1 - REST_SHARE;
}

function canStandAt(volts: number, chemistry: Chemistry, cells: number): boolean {
  const chargedV = REST_VOLTAGE[chemistry].chargedV * cells;
  return volts >= WORKING_SHARE.least * chargedV && volts <= WORKING_SHARE.most * chargedV;
}
