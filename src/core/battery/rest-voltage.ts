import type { Chemistry } from "../profile.js";

/** Voltage of one cell at rest, volts: charged, and the range that a usable cell may show. */
export interface RestVoltage {
  readonly chargedV: number;
  readonly lowV: number;
  readonly highV: number;
}

/**
 * Rest voltages per cell.
 *
 * Lead-acid: 2.1 V charged (FAA mechanic training text). Ni-Cd: 1.2 V nominal, 1.25 V to 1.3 V at rest (from memory).
 * Li-ion (iron phosphate): common practice, no source.
 */
export const REST_VOLTAGE: Record<Chemistry, RestVoltage> = {
  "lead-acid": { chargedV: 2.1, lowV: 1.95, highV: 2.17 },
  "ni-cd": { chargedV: 1.28, lowV: 1.2, highV: 1.35 },
  "li-ion": { chargedV: 3.33, lowV: 3.2, highV: 3.4 },
};

/** Rest voltage of a lead-acid cell from the specific gravity of its electrolyte: `SG + 0.84` (trade rule of thumb). */
export function leadAcidCellV(specificGravity: number): number {
  return specificGravity + 0.84;
}
