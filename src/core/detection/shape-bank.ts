import type { LoadKind, MeterProfile } from "../profile.js";
import type { DipShape } from "./switching-template.js";

/** A shape of the dip with its weight before the readings are seen; weights of a bank sum to 1. */
export interface WeightedShape {
  readonly shape: DipShape;
  readonly weight: number;
}

/**
 * The shapes that are tried, and paid for, when the times are marked.
 *
 * Lag, shift and settling are what the depth of detection hangs on; see the mismatch losses in DEVELOPERS.md. Settling
 * is tried for heaters and for loads of unknown kind. Time constants are invented, typical ones: 3 s for a heater,
 * 20 s for polarisation.
 */
export function shapeBank(
  kind: LoadKind | null,
  meter: MeterProfile | undefined,
  markUncertaintyS: number,
): readonly WeightedShape[] {
  const lags = meter?.lagS === undefined ? UNKNOWN_LAGS : [{ value: meter.lagS, weight: 1 }];
  const inrushes = kind === null || kind === "heater" ? SETTLING : NO_SETTLING;
  const shifts = shiftsFor(markUncertaintyS);
  const bank: WeightedShape[] = [];
  for (const lag of lags) {
    for (const inrush of inrushes) {
      for (const polarization of POLARIZATIONS) {
        for (const shift of shifts) {
          bank.push({
            shape: {
              shiftS: shift.value,
              lagS: lag.value,
              inrush: inrush.value,
              settleS: 3,
              polarization: polarization.value,
              polarizationS: 20,
            },
            weight: lag.weight * inrush.weight * polarization.weight * shift.weight,
          });
        }
      }
    }
  }
  return bank;
}

export interface Choice {
  readonly value: number;
  readonly weight: number;
}

/** Time constants of a meter of which nobody told one, seconds. */
export const UNKNOWN_LAGS: readonly Choice[] = [
  { value: 0.08, weight: 0.25 },
  { value: 0.3, weight: 0.35 },
  { value: 0.7, weight: 0.3 },
  { value: 1.5, weight: 0.1 },
];

const SETTLING: readonly Choice[] = [
  { value: 0, weight: 0.25 },
  { value: 0.5, weight: 0.45 },
  { value: 1, weight: 0.3 },
];

const NO_SETTLING: readonly Choice[] = [{ value: 0, weight: 1 }];

const POLARIZATIONS: readonly Choice[] = [
  { value: 0.1, weight: 0.35 },
  { value: 0.4, weight: 0.65 },
];

/** Five common shifts spread as a normal distribution of the given standard deviation (Gauss-Hermite nodes). */
function shiftsFor(uncertaintyS: number): readonly Choice[] {
  if (uncertaintyS <= 0) return [{ value: 0, weight: 1 }];
  const nodes = [0, 1.355626, -1.355626, 2.85697, -2.85697];
  const weights = [0.533333, 0.222076, 0.222076, 0.011257, 0.011257];
  return nodes.map((node, k) => ({ value: node * uncertaintyS, weight: weights[k] }));
}
