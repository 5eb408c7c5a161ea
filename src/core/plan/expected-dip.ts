import { REST_VOLTAGE } from "../battery/rest-voltage.js";
import { currentFromSource, loadLaw } from "../estimation/load-kind.js";
import { RATING_TOLERANCE_FRACTION } from "../estimation/source-resistance.js";
import { rectangularU } from "../estimation/uncertainty-budget.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";

/** Source resistance that the plan reckons with, ohms, and who vouches for it. */
export interface PlannedSource extends Uncertain {
  readonly from: "stated" | "profile" | "history";
  /** Low end: two standard uncertainties below. */
  readonly lowOhm: number;
}

/** The dip that a load is expected to make, volts. */
export interface ExpectedDip {
  /** By its rating, or the middle of what is acceptable; null where nothing tells its current. */
  readonly nominal: Uncertain | null;
  /** Of the lowest acceptable current at the low end of the source resistance; null where no such current is told. */
  readonly lowestV: number | null;
  /** The depth that must be found: the lowest one, else the low end of the nominal one. */
  readonly plannedV: number | null;
}

/** The stated resistance, else the profile's battery and path together; null where neither is known. */
export function plannedSource(
  profile: BusProfile,
  stated: (Uncertain & { readonly from: "stated" | "history" }) | null,
): PlannedSource | null {
  if (stated !== null) return { ...stated, lowOhm: Math.max(0, stated.value - 2 * stated.u) };
  const battery = profile.battery?.resistanceOhm;
  if (battery === undefined) return null;
  // Without the path it is the battery's alone, which errs towards a smaller dip.
  const path = profile.pathResistanceOhm ?? { value: 0, u: 0 };
  const value = battery.value + path.value;
  const u = rootSumSquares(battery.u, path.u);
  return { value, u, from: "profile", lowOhm: Math.max(0, value - 2 * u) };
}

/** Voltage of the rested bus: by chemistry and cells, else 24 V; its uncertainty is that of the state of charge. */
export function restedBusV(profile: BusProfile): Uncertain {
  const { chemistry, cells } = profile.battery ?? {};
  if (chemistry === undefined || cells === undefined) return { value: 24, u: 1 };
  const { lowV, highV } = REST_VOLTAGE[chemistry];
  return { value: (cells * (lowV + highV)) / 2, u: cells * rectangularU((highV - lowV) / 2) };
}

/** Expected dip of one load. Source of the law: Ohm, depth = current x source resistance. */
export function expectedDip(load: LoadProfile, source: PlannedSource | null, busV: Uncertain): ExpectedDip {
  const current = nominalCurrent(load, source?.value ?? 0, busV);
  if (source === null) return { nominal: null, lowestV: null, plannedV: null };
  const nominal =
    current === null
      ? null
      : {
          value: current.value * source.value,
          u: rootSumSquares(current.u * source.value, current.value * source.u),
        };
  const lowestV = load.acceptA === undefined ? null : load.acceptA[0] * source.lowOhm;
  return { nominal, lowestV, plannedV: lowestV ?? (nominal === null ? null : lowEnd(nominal)) };
}

/** Current by the rating at the rested bus, else the middle of what is acceptable, amperes; null where neither is told. */
export function nominalCurrent(load: LoadProfile, sourceOhm: number, busV: Uncertain): Uncertain | null {
  if (load.rated !== undefined) {
    const law = loadLaw(load.kind, load.rated);
    const value = currentFromSource(law, busV.value, sourceOhm);
    if (value !== null) {
      const byVoltage = law.kind === "current" ? 0 : busV.u / busV.value;
      return {
        value,
        u: value * rootSumSquares(rectangularU(load.rated.toleranceFraction ?? RATING_TOLERANCE_FRACTION), byVoltage),
      };
    }
  }
  if (load.acceptA === undefined) return null;
  const [low, high] = load.acceptA;
  return { value: (low + high) / 2, u: rectangularU((high - low) / 2) };
}

function lowEnd({ value, u }: Uncertain): number | null {
  return value > 2 * u ? value - 2 * u : null;
}
