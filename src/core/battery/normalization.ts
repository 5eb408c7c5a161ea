import { type Answer, unanswered } from "../estimation/answer.js";
import { type Draw, normalDraw } from "../estimation/propagated-quantity.js";
import type { BudgetInput } from "../estimation/uncertainty-budget.js";
import type { Chemistry } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { exponential } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";

/** How the internal resistance of a chemistry follows temperature and state of charge. */
export interface NormalizationCoefficients {
  /** `B` in `R = R_ref exp(B (1/T - 1/T_ref))`, kelvins. */
  readonly temperatureK: Uncertain;
  /** Rise of the resistance from full to empty, as a share of that at full. */
  readonly emptyRise: Uncertain;
  /** `guide`: a general figure, not one of this battery. */
  readonly origin: "guide" | "fitted";
}

/**
 * Guide values.
 *
 * Lead-acid: +50 % from +30 C to -18 C, about +40 % from full to empty (general guides, no measurement of this battery).
 * Ni-Cd, li-ion: common practice, no source; wide on purpose.
 */
export const GUIDE_COEFFICIENTS: Record<Chemistry, NormalizationCoefficients> = {
  "lead-acid": {
    temperatureK: { value: 650, u: 200 },
    emptyRise: { value: 0.4, u: 0.15 },
    origin: "guide",
  },
  "ni-cd": { temperatureK: { value: 500, u: 300 }, emptyRise: { value: 0.1, u: 0.1 }, origin: "guide" },
  "li-ion": { temperatureK: { value: 600, u: 500 }, emptyRise: { value: 0.1, u: 0.1 }, origin: "guide" },
};

/** Temperature to which resistances are normalised. */
export const REFERENCE_C = 20;
/** State of charge taken where none is told: just off charge or nearly so. Common practice, no source. */
const USUAL_CHARGE: Uncertain = { value: 0.9, u: 0.1 };

export interface NormalizationInput {
  readonly resistanceOhm: Uncertain;
  readonly chemistry?: Chemistry;
  readonly temperatureC?: Uncertain;
  /** 0 empty, 1 full; 0.9 with u 0.1 when left out. */
  readonly stateOfCharge?: Uncertain;
  /** Those of this battery, once its own flights have told them; guide values when left out. */
  readonly coefficients?: NormalizationCoefficients;
}

export interface NormalizedResistance {
  readonly resistanceOhm: Uncertain;
  /** Relative standard uncertainties that make up the whole. */
  readonly parts: {
    readonly resistance: number;
    readonly temperature: number;
    readonly temperatureCoefficient: number;
    readonly stateOfCharge: number;
    readonly chargeCoefficient: number;
  };
  readonly stateOfCharge: Uncertain;
  readonly chargeAssumed: boolean;
  readonly coefficients: NormalizationCoefficients;
}

/**
 * Internal resistance at 20 C and full charge: `R / (exp(B (1/T - 1/T_ref)) (1 + rise (1 - charge)))`.
 *
 * Unknown without chemistry (unless the coefficients are given) or temperature. Source of the form: Arrhenius.
 */
export function normalizedResistance(input: NormalizationInput): Answer<NormalizedResistance> {
  const coefficients =
    input.coefficients ?? (input.chemistry === undefined ? undefined : GUIDE_COEFFICIENTS[input.chemistry]);
  if (coefficients === undefined) return unanswered("no-chemistry");
  if (input.temperatureC === undefined) return unanswered("no-temperature");
  const charge = input.stateOfCharge ?? USUAL_CHARGE;
  const kelvin = input.temperatureC.value + 273.15;
  const apart = 1 / kelvin - 1 / (REFERENCE_C + 273.15);
  const { temperatureK, emptyRise } = coefficients;
  const chargeFactor = 1 + emptyRise.value * (1 - charge.value);
  const value = input.resistanceOhm.value / (exponential(temperatureK.value * apart) * chargeFactor);
  const parts = {
    resistance: input.resistanceOhm.u / Math.abs(input.resistanceOhm.value),
    temperature: (temperatureK.value / squared(kelvin)) * input.temperatureC.u,
    temperatureCoefficient: Math.abs(apart) * temperatureK.u,
    stateOfCharge: (emptyRise.value / chargeFactor) * charge.u,
    chargeCoefficient: ((1 - charge.value) / chargeFactor) * emptyRise.u,
  };
  return {
    known: true,
    resistanceOhm: { value, u: Math.abs(value) * rootSumSquares(...Object.values(parts)) },
    parts,
    stateOfCharge: charge,
    chargeAssumed: input.stateOfCharge === undefined,
    coefficients,
  };
}

/** The normalised resistance with the internal one drawn by `drawOhm` and every other input drawn beside it, ohms. */
export function normalizedDraw(found: NormalizedResistance, temperatureC: Uncertain, drawOhm: Draw): Draw {
  const { coefficients, stateOfCharge } = found;
  const kelvin = normalDraw({ value: temperatureC.value + 273.15, u: temperatureC.u });
  const [slopeK, rise, charge] = [coefficients.temperatureK, coefficients.emptyRise, stateOfCharge].map(normalDraw);
  return (random) => {
    const apart = 1 / kelvin(random) - 1 / (REFERENCE_C + 273.15);
    const discharged = 1 - Math.min(1, Math.max(0, charge(random)));
    return drawOhm(random) / (exponential(slopeK(random) * apart) * (1 + rise(random) * discharged));
  };
}

/** Budget rows of a normalised resistance: each input with the derivative that the parts were made of. */
export function normalizationRows(
  found: NormalizedResistance,
  given: { readonly resistanceOhm: Uncertain; readonly temperatureC: Uncertain },
): readonly BudgetInput[] {
  const { coefficients, parts, resistanceOhm, stateOfCharge } = found;
  const row = (
    source: BudgetInput["source"],
    unit: BudgetInput["unit"],
    { value, u }: Uncertain,
    part: number,
    sign: number,
  ): BudgetInput => ({ source, value, unit, u, sensitivity: u > 0 ? (sign * resistanceOhm.value * part) / u : 0 });
  const cold = given.temperatureC.value < REFERENCE_C ? -1 : 1;
  return [
    row("resistance", "Ohm", given.resistanceOhm, parts.resistance, 1),
    row(
      "temperature",
      "K",
      { value: given.temperatureC.value + 273.15, u: given.temperatureC.u },
      parts.temperature,
      1,
    ),
    row("temperature-coefficient", "K", coefficients.temperatureK, parts.temperatureCoefficient, cold),
    row("state-of-charge", "1", stateOfCharge, parts.stateOfCharge, 1),
    row("charge-coefficient", "1", coefficients.emptyRise, parts.chargeCoefficient, -1),
  ];
}
