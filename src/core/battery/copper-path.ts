/**
 * Maximum resistance of tin-plated copper aircraft wire at 20 C, ohms per 1000 ft, by gauge (AWG; 0, -1, -2, -3 for 1/0
 * to 4/0).
 *
 * Source: FAA AC 43.13-1B, table 11-9.
 */
const WIRE_OHMS_PER_1000_FT: ReadonlyMap<number, number> = new Map([
  [24, 28.4],
  [22, 16.2],
  [20, 9.88],
  [18, 6.23],
  [16, 4.81],
  [14, 3.06],
  [12, 2.02],
  [10, 1.26],
  [8, 0.7],
  [6, 0.44],
  [4, 0.28],
  [2, 0.18],
  [1, 0.15],
  [0, 0.12],
  [-1, 0.09],
  [-2, 0.07],
  [-3, 0.06],
]);

const FOOT_M = 0.3048;

/**
 * Resistance in ohms of a run of copper wire of `lengthM` metres at `temperatureC` degrees Celsius, the length counted
 * there and back where the return is a wire too. Source: FAA AC 43.13-1B, table 11-9.
 *
 * @throws RangeError for a gauge that the table does not have
 */
export function copperWireResistance(gauge: number, lengthM: number, temperatureC = 20): number {
  const perThousandFeet = WIRE_OHMS_PER_1000_FT.get(gauge);
  if (perThousandFeet === undefined) {
    throw new RangeError(`Cannot look up a wire: the gauge must be one of table 11-9, got ${gauge}`);
  }
  return copperResistanceAt((perThousandFeet * lengthM) / FOOT_M / 1000, temperatureC);
}

/** Resistance of copper in ohms at a temperature in degrees Celsius, from that at 20 C. Source: FAA AC 43.13-1B, p. 11-22, item (4). */
export function copperResistanceAt(resistanceAt20Ohm: number, temperatureC: number): number {
  return (resistanceAt20Ohm * (234.5 + temperatureC)) / 254.5;
}
