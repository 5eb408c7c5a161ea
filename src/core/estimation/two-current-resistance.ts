import type { Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";

/** A discharge level: the current and the terminal voltage read at its end. */
export interface DischargeLevel {
  /** Amperes, positive for discharge. */
  readonly currentA: Uncertain;
  readonly terminalV: Uncertain;
}

export interface TwoCurrentResult {
  readonly resistanceOhm: Uncertain;
  /** Current into a short circuit, `(Ua Ib - Ub Ia) / (Ua - Ub)`. */
  readonly shortCircuitA: Uncertain;
}

/** How long each level is held before it is read, seconds, and its current. */
export interface TwoCurrentSchedule {
  readonly firstS: number;
  readonly secondS: number;
  readonly firstA: readonly [number, number];
  readonly secondA: readonly [number, number];
}

/**
 * Internal resistance and short-circuit current from two discharge currents:
 * `R = (Ua - Ub) / (Ib - Ia)`, `Isc = (Ua Ib - Ub Ia) / (Ua - Ub)`.
 *
 * The four inputs are taken as uncorrelated. Source: IEC 60896-21, 6.3 (formulas from memory); the resistance alone is
 * also that of IEC 61960-3, d.c. internal resistance.
 * @throws RangeError when the second current is not larger than the first
 */
export function twoCurrentResistance(first: DischargeLevel, second: DischargeLevel): TwoCurrentResult {
  const [ua, ub] = [first.terminalV.value, second.terminalV.value];
  const [ia, ib] = [first.currentA.value, second.currentA.value];
  if (!(ib > ia)) {
    throw new RangeError(
      `Cannot take a two-current resistance: the second current must be the larger, got ${ia} A and ${ib} A`,
    );
  }
  const drop = ua - ub;
  const rise = ib - ia;
  const resistance = drop / rise;
  const shortCircuit = (ua * ib - ub * ia) / drop;
  const u = (slopes: readonly [number, number, number, number]) =>
    rootSumSquares(
      slopes[0] * first.terminalV.u,
      slopes[1] * second.terminalV.u,
      slopes[2] * first.currentA.u,
      slopes[3] * second.currentA.u,
    );
  return {
    resistanceOhm: { value: resistance, u: u([1 / rise, -1 / rise, resistance / rise, -resistance / rise]) },
    shortCircuitA: {
      value: shortCircuit,
      u: u([(ib - shortCircuit) / drop, (shortCircuit - ia) / drop, -ub / drop, ua / drop]),
    },
  };
}

/** Levels of IEC 60896-21, 6.3, from the 10 h current `I10` (from memory): 4 to 6 I10 for 20 s, 20 to 40 I10 for 5 s. */
export function iec60896Schedule(capacityAh: number): TwoCurrentSchedule {
  const tenHourA = capacityAh / 10;
  return { firstS: 20, secondS: 5, firstA: [4 * tenHourA, 6 * tenHourA], secondA: [20 * tenHourA, 40 * tenHourA] };
}

/** Levels of IEC 61960-3: 0.2 C for 10 s, then 1 C for 1 s. */
export function iec61960Schedule(capacityAh: number): TwoCurrentSchedule {
  const low = 0.2 * capacityAh;
  return { firstS: 10, secondS: 1, firstA: [low, low], secondA: [capacityAh, capacityAh] };
}
