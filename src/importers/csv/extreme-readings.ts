import { InputError } from "../input-error.js";
import type { LogFinding } from "./log-notes.js";
import type { PlaceOf } from "./series-set.js";

/** Beyond it a number stands for overload: instruments write 9.9E37 (SCPI-1999, volume 1, 7.2.1.4, from memory). */
const OVERLOAD = 1e30;
/** So many times the usual voltage, or so much of it with the other sign, no bus shows. */
const FAR_OFF = 20;
const TURNED = 0.5;
/** Below this usual voltage the bus was off and nothing can be said, V. */
const LEAST_USUAL_V = 1;

/** Puts NaN in place of numbers that stand for overload, in V or A. */
export function leaveOverloadOut(values: Float64Array, role: "voltage" | "current", placeOf: PlaceOf): LogFinding[] {
  let cellCount = 0;
  let first = 0;
  for (let i = 0; i < values.length; i += 1) {
    if (!(Math.abs(values[i]!) > OVERLOAD)) continue;
    if (cellCount === 0) first = i;
    cellCount += 1;
    values[i] = Number.NaN;
  }
  return cellCount === 0 ? [] : [{ code: "overload", role, cellCount, firstLine: placeOf(first).line }];
}

/** The most of the readings that may be none before the log is refused. */
const MOST_FAR_OFF = 0.02;

/**
 * Puts NaN in place of voltages that no bus of the usual voltage has, as a logger may write where it has none: -999.9.
 * They would make dips of their own. @throws {InputError} where there are too many of them to be faults of the logger.
 */
export function leaveFarOffOut(voltagesV: Float64Array, placeOf: PlaceOf): LogFinding[] {
  const usualV = usualVoltageV(voltagesV);
  if (!(Math.abs(usualV) > LEAST_USUAL_V)) return [];
  const highest = usualV > 0 ? FAR_OFF * usualV : -TURNED * usualV;
  const lowest = usualV > 0 ? -TURNED * usualV : FAR_OFF * usualV;
  let cellCount = 0;
  let farthest = 0;
  let farthestV = 0;
  for (let i = 0; i < voltagesV.length; i += 1) {
    const valueV = voltagesV[i]!;
    if (!(valueV > highest || valueV < lowest)) continue;
    if (Math.abs(valueV) > Math.abs(farthestV)) {
      farthest = i;
      farthestV = valueV;
    }
    cellCount += 1;
    voltagesV[i] = Number.NaN;
  }
  if (cellCount === 0) return [];
  if (cellCount > MOST_FAR_OFF * voltagesV.length) {
    throw new InputError({
      ...placeOf(farthest),
      problem: `${cellCount} of ${voltagesV.length} voltage readings lie far off the usual ${usualV} V, such as ${farthestV} V here`,
      remedy: "name another --voltage-column, or say --missing with what such cells read to leave them out",
    });
  }
  return [{ code: "far-off", cellCount, usualV, valueV: farthestV, line: placeOf(farthest).line }];
}

/**
 * Turns the sign of the voltages where the usual one is negative, as with the leads exchanged: whichever pole is the
 * bus, a load takes from the size of its voltage, so that a dip would be read as a rise.
 */
export function turnNegative(voltagesV: Float64Array): LogFinding[] {
  const usualV = usualVoltageV(voltagesV);
  if (!(usualV < -LEAST_USUAL_V)) return [];
  for (let i = 0; i < voltagesV.length; i += 1) voltagesV[i] = 0 - voltagesV[i]!;
  return [{ code: "leads-exchanged", usualV }];
}

/** Median of readings from all over the series, V; NaN where there are none. */
function usualVoltageV(voltagesV: Float64Array): number {
  const stride = Math.ceil(voltagesV.length / 1000);
  const some: number[] = [];
  for (let i = 0; i < voltagesV.length; i += stride) if (!Number.isNaN(voltagesV[i])) some.push(voltagesV[i]!);
  some.sort((a, b) => a - b);
  return some[Math.floor(some.length / 2)] ?? Number.NaN;
}
