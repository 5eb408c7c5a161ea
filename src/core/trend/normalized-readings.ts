import { type NormalizationCoefficients, normalizedResistance } from "../battery/normalization.js";
import type { Chemistry } from "../profile.js";
import type { FlightReading } from "./battery-trend.js";

/** A reading with what is known of the battery's state when it was taken. */
export interface ConditionedReading extends FlightReading {
  readonly temperatureC: number | null;
  /** 0 to 1. */
  readonly stateOfCharge: number | null;
}

/** How the resistances of a battery were brought to the reference temperature and charge; said with every trend of them. */
export interface NormalizationNote {
  readonly chemistry: Chemistry;
  readonly coefficients: NormalizationCoefficients;
  readonly flightCount: number;
  /** Flights whose charge was not told and was taken as nearly full. */
  readonly chargeAssumedCount: number;
}

/** Standard uncertainties of what a person notes down; common practice, no source. */
const U_TEMPERATURE_K = 2;
const U_CHARGE = 0.05;

/**
 * Adds to the readings the internal resistances brought to the reference temperature and charge, for flights that have
 * none yet and whose temperature is known.
 */
export function withNormalized(
  readings: readonly ConditionedReading[],
  chemistry: Chemistry | null,
): { readonly readings: readonly FlightReading[]; readonly note: NormalizationNote | null } {
  if (chemistry === null) return { readings, note: null };
  const done = new Set(readings.filter((one) => one.quantity === "normalized-resistance").map((one) => one.hash));
  let note: NormalizationNote | null = null;
  const added = readings.flatMap((reading): FlightReading[] => {
    const { temperatureC, stateOfCharge } = reading;
    if (reading.quantity !== "internal-resistance" || temperatureC === null || done.has(reading.hash)) return [];
    const answer = normalizedResistance({
      resistanceOhm: { value: reading.value, u: reading.u },
      chemistry,
      temperatureC: { value: temperatureC, u: U_TEMPERATURE_K },
      ...(stateOfCharge === null ? {} : { stateOfCharge: { value: stateOfCharge, u: U_CHARGE } }),
    });
    if (!answer.known) return [];
    note = {
      chemistry,
      coefficients: answer.coefficients,
      flightCount: (note?.flightCount ?? 0) + 1,
      chargeAssumedCount: (note?.chargeAssumedCount ?? 0) + (answer.chargeAssumed ? 1 : 0),
    };
    return [{ ...reading, ...answer.resistanceOhm, quantity: "normalized-resistance" }];
  });
  return { readings: [...readings, ...added].sort((a, b) => a.atS - b.atS), note };
}
