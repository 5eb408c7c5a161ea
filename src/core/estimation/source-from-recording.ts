import type { BudgetSource } from "../analysis.js";
import type { UnknownReason } from "../notes.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Route, Uncertain } from "../quantity/quantity.js";
import { resistanceFromReference } from "./source-resistance.js";
import type { BudgetInput } from "./uncertainty-budget.js";

/** A load's response as far as estimation needs it. */
export interface EstimatedDip {
  readonly id: string;
  readonly responded: boolean;
  /** Settled depth, volts. */
  readonly depth: Uncertain;
  /** Level before the dip, volts. */
  readonly busV: Uncertain;
  /** Current measured at the same time; null where there was no meter. */
  readonly measuredA: Uncertain | null;
}

/** Source resistance that this recording or the profile gives, and where from. */
export interface SourceResistance {
  readonly known: true;
  readonly resistanceOhm: number;
  readonly uOhm: number;
  readonly route: Extract<Route, "measured-current" | "reference-load" | "known-resistance">;
  /** The load whose dip gave it; null for a resistance from the profile. */
  readonly load: string | null;
  /** Current of that load in its dip. */
  readonly current: Uncertain | null;
  readonly rows: readonly BudgetInput[];
  readonly toleranceFraction: number | null;
}

export type SourceAnswer = SourceResistance | { readonly known: false; readonly reason: UnknownReason };

/**
 * Finds the source resistance by the best route that the recording allows: measured current, then reference load, then
 * the profile's battery and path. Of several loads of one route the one with the smallest relative uncertainty is taken.
 */
export function sourceResistance(dips: readonly EstimatedDip[], profile: BusProfile | null): SourceAnswer {
  const measured = best(dips.filter((dip) => dip.responded).flatMap((dip) => fromMeasured(dip)));
  if (measured !== null) return measured;
  const references = (profile?.loads ?? []).filter((load) => load.reference);
  const byReference = references.map((load) => fromReference(load, dips));
  const reference = best(byReference.flatMap((answer) => (answer.known ? [answer] : [])));
  if (reference !== null) return reference;
  const known = fromProfile(profile);
  if (known.known) return known;
  return byReference.find((answer) => !answer.known) ?? known;
}

function best(found: readonly SourceResistance[]): SourceResistance | null {
  const sorted = [...found].sort((a, b) => a.uOhm / a.resistanceOhm - b.uOhm / b.resistanceOhm);
  return sorted[0] ?? null;
}

function fromMeasured(dip: EstimatedDip): SourceResistance[] {
  const { depth, measuredA } = dip;
  if (measuredA === null || !(measuredA.value > 3 * measuredA.u) || !(depth.value > 0)) return [];
  const resistanceOhm = depth.value / measuredA.value;
  const rows: BudgetInput[] = [
    row("depth", depth, "V", 1 / measuredA.value),
    row("measured-current", measuredA, "A", -resistanceOhm / measuredA.value),
  ];
  return [
    {
      known: true,
      resistanceOhm,
      uOhm: Math.hypot(...rows.map(({ sensitivity, u }) => sensitivity * u)),
      route: "measured-current",
      load: dip.id,
      current: measuredA,
      rows,
      toleranceFraction: null,
    },
  ];
}

function fromReference(load: LoadProfile, dips: readonly EstimatedDip[]): SourceAnswer {
  const dip = dips.find(({ id }) => id === load.id);
  if (dip === undefined || !dip.responded) return { known: false, reason: "reference-did-not-respond" };
  const answer = resistanceFromReference(load, { depth: dip.depth, busV: dip.busV });
  if (!answer.known) return answer;
  return {
    known: true,
    resistanceOhm: answer.resistanceOhm,
    uOhm: answer.uOhm,
    route: "reference-load",
    load: load.id,
    current: { value: answer.currentA, u: answer.uCurrentA },
    rows: answer.rows,
    toleranceFraction: answer.toleranceFraction,
  };
}

/** Battery resistance of the profile plus the path's; both are needed. */
function fromProfile(profile: BusProfile | null): SourceAnswer {
  const battery = profile?.battery?.resistanceOhm;
  if (battery === undefined) return { known: false, reason: "no-current-reference" };
  const path = profile?.pathResistanceOhm;
  if (path === undefined) return { known: false, reason: "path-unknown" };
  return {
    known: true,
    resistanceOhm: battery.value + path.value,
    uOhm: Math.hypot(battery.u, path.u),
    route: "known-resistance",
    load: null,
    current: null,
    rows: [row("known-resistance", battery, "Ohm", 1), row("path-resistance", path, "Ohm", 1)],
    toleranceFraction: null,
  };
}

function row(source: BudgetSource, input: Uncertain, unit: BudgetInput["unit"], sensitivity: number): BudgetInput {
  return { source, value: input.value, unit, u: input.u, sensitivity };
}

/**
 * Lowest source resistance that the profile vouches for, ohms; null when it says nothing. Without the path it is the
 * battery's alone, which errs towards a smaller expected dip.
 */
export function lowestProfileResistanceOhm(profile: BusProfile | null): number | null {
  const battery = profile?.battery?.resistanceOhm;
  if (battery === undefined) return null;
  const path = profile?.pathResistanceOhm;
  const value = battery.value + (path?.value ?? 0);
  const low = value - 1.96 * Math.hypot(battery.u, path?.u ?? 0);
  return low > 0 ? low : null;
}
