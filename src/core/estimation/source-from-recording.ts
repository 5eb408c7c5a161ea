import type { BudgetSource } from "../analysis.js";
import type { UnknownReason } from "../notes.js";
import type { BusProfile, LoadProfile } from "../profile.js";
import type { Route, Uncertain } from "../quantity/quantity.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { jointFit } from "./joint-fit.js";
import { CLAMP_GAIN_FRACTION } from "./measured-current.js";
import { type Draw, normalDraw } from "./propagated-quantity.js";
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
  /** By which share the resistance at the stated time exceeds the immediate one; none when left out. */
  readonly growth?: Uncertain;
}

/** Source resistance that this recording or the profile gives, and where from. */
export interface SourceResistance {
  readonly known: true;
  readonly resistanceOhm: number;
  readonly uOhm: number;
  readonly route: Extract<Route, "measured-current" | "reference-load" | "known-resistance">;
  /** The one load whose dip gave it; null for a resistance from several loads or from the profile. */
  readonly load: string | null;
  /** Current of that one load in its dip. */
  readonly current: Uncertain | null;
  /** Current of every load whose dip took part, brought into line with the others where there are several. */
  readonly currents: readonly { readonly load: string; readonly currentA: Uncertain; readonly drawA: Draw }[];
  readonly rows: readonly BudgetInput[];
  /** By which share the resistance at the stated time exceeds this immediate one. */
  readonly growth: Uncertain;
  /** The resistance with all inputs drawn anew, ohms. */
  readonly draw: Draw;
  /** Rated tolerances that were counted with, by load. */
  readonly tolerances: readonly { readonly load: string; readonly fraction: number }[];
}

const NO_GROWTH: Uncertain = { value: 0, u: 0 };

/** A resistance with the dip that it rests on. */
interface FromOneDip extends SourceResistance {
  readonly load: string;
  readonly current: Uncertain;
  readonly depth: Uncertain;
}

export type SourceAnswer = SourceResistance | { readonly known: false; readonly reason: UnknownReason };

/**
 * Finds the source resistance by the best route that the recording allows: measured current, then reference loads, then
 * the profile's battery and path. Several loads of one route are fitted jointly. `voltageGainU` is the standard uncertainty
 * of the gain that all depths share, as a share: the depths themselves come without it.
 */
export function sourceResistance(
  dips: readonly EstimatedDip[],
  profile: BusProfile | null,
  voltageGainU = 0,
): SourceAnswer {
  const measured = together(dips.filter((dip) => dip.responded).flatMap((dip) => fromMeasured(dip)));
  if (measured !== null) return withVoltageGain(withGain(measured), voltageGainU);
  const references = (profile?.loads ?? []).filter((load) => load.reference);
  const byReference = references.map((load) => fromReference(load, dips));
  const reference = together(byReference.flatMap((answer) => (answer.known ? [answer] : [])));
  if (reference !== null) return withVoltageGain(reference, voltageGainU);
  const known = fromProfile(profile);
  if (known.known) return known;
  return byReference.find((answer) => !answer.known) ?? known;
}

/**
 * One resistance from all of them by {@link jointFit}, each weighted by its relative variance; widened where they differ
 * by more than they should. Beside the sharpest alone it errs 14 % less with two references alike, and never more.
 */
function together(found: readonly FromOneDip[]): SourceResistance | null {
  if (found.length <= 1) return found[0] ?? null;
  const count = found.length;
  const covarianceV2 = new Float64Array(count * count);
  found.forEach(({ depth }, k) => {
    covarianceV2[k * count + k] = squared(depth.u);
  });
  const fit = jointFit({
    depths: found.map(({ load, depth }) => ({ load, valueV: depth.value })),
    covarianceV2,
    currents: found.map(({ load, current }) => ({ load, currentA: current })),
  });
  if (!fit.known) {
    return found.reduce((best, one) => (one.uOhm / one.resistanceOhm < best.uOhm / best.resistanceOhm ? one : best));
  }
  const disagreement = Math.sqrt(Math.max(1, fit.chiSquare / fit.dof));
  const weights = found.map(({ uOhm, resistanceOhm }) => squared(resistanceOhm / uOhm));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const rows = found.flatMap((one, k) =>
    one.rows.map((input) => ({
      ...input,
      u: disagreement * input.u,
      sensitivity: (input.sensitivity * (weights[k] / total) * fit.resistanceOhm.value) / one.resistanceOhm,
    })),
  );
  return {
    known: true,
    resistanceOhm: fit.resistanceOhm.value,
    uOhm: rootSumSquares(...rows.map(({ sensitivity, u }) => sensitivity * u)),
    route: found[0].route,
    load: null,
    current: null,
    currents: fit.currents.map(({ load, currentA: { value, u } }) => ({
      load,
      currentA: { value, u: disagreement * u },
      drawA: normalDraw({ value, u: disagreement * u }),
    })),
    rows,
    // All dips show the same battery: the mean is no surer than one of them.
    growth: {
      value: found.reduce((sum, { growth }, k) => sum + (weights[k] / total) * growth.value, 0),
      u: found.reduce((sum, { growth }, k) => sum + (weights[k] / total) * growth.u, 0),
    },
    draw: (random) => {
      const drawn = found.reduce(
        (sum, one, k) => sum + (weights[k] / total) * (one.draw(random) / one.resistanceOhm - 1),
        0,
      );
      return fit.resistanceOhm.value * (1 + disagreement * drawn);
    },
    tolerances: found.flatMap(({ tolerances }) => tolerances),
  };
}

/** Adds the gain of the clamp, which all measured currents share. */
function withGain(source: SourceResistance): SourceResistance {
  const gain = row("measured-current", { value: 1, u: CLAMP_GAIN_FRACTION }, "1", -source.resistanceOhm);
  return {
    ...source,
    uOhm: rootSumSquares(source.uOhm, CLAMP_GAIN_FRACTION * source.resistanceOhm),
    rows: [...source.rows, gain],
    draw: (random) => source.draw(random) / (1 + CLAMP_GAIN_FRACTION * random.normal()),
  };
}

/** Adds the gain of the voltage readings, which all depths share: no number of dips makes it smaller. */
function withVoltageGain(source: SourceResistance, gainU: number): SourceResistance {
  if (gainU === 0) return source;
  return {
    ...source,
    uOhm: rootSumSquares(source.uOhm, gainU * source.resistanceOhm),
    rows: [...source.rows, row("voltage-gain", { value: 1, u: gainU }, "1", source.resistanceOhm)],
    draw: (random) => source.draw(random) * (1 + gainU * random.normal()),
  };
}

function fromMeasured(dip: EstimatedDip): FromOneDip[] {
  const { depth } = dip;
  if (dip.measuredA === null || !(dip.measuredA.value > 3 * dip.measuredA.u) || !(depth.value > 0)) return [];
  const measuredA = withoutGain(dip.measuredA);
  const resistanceOhm = depth.value / measuredA.value;
  const rows: BudgetInput[] = [
    row("depth", depth, "V", 1 / measuredA.value),
    row("measured-current", measuredA, "A", -resistanceOhm / measuredA.value),
  ];
  return [
    {
      known: true,
      resistanceOhm,
      uOhm: rootSumSquares(...rows.map(({ sensitivity, u }) => sensitivity * u)),
      route: "measured-current",
      load: dip.id,
      current: measuredA,
      currents: [{ load: dip.id, currentA: dip.measuredA, drawA: normalDraw(dip.measuredA) }],
      depth,
      rows,
      growth: dip.growth ?? NO_GROWTH,
      draw: (random) => (depth.value + depth.u * random.normal()) / (measuredA.value + measuredA.u * random.normal()),
      tolerances: [],
    },
  ];
}

/** A measured current less the gain of the clamp in its uncertainty. */
function withoutGain({ value, u }: Uncertain): Uncertain {
  return { value, u: Math.sqrt(Math.max(squared(u) - squared(CLAMP_GAIN_FRACTION * value), squared(0.1 * u))) };
}

function fromReference(
  load: LoadProfile,
  dips: readonly EstimatedDip[],
): FromOneDip | Extract<SourceAnswer, { known: false }> {
  const dip = dips.find(({ id }) => id === load.id);
  if (dip === undefined || !dip.responded) return { known: false, reason: "reference-did-not-respond" };
  const answer = resistanceFromReference(load, { depth: dip.depth, busV: dip.busV });
  if (!answer.known) return answer;
  const current = { value: answer.currentA, u: answer.uCurrentA };
  return {
    known: true,
    resistanceOhm: answer.resistanceOhm,
    uOhm: answer.uOhm,
    route: "reference-load",
    load: load.id,
    current,
    currents: [{ load: load.id, currentA: current, drawA: answer.drawA }],
    depth: dip.depth,
    rows: answer.rows,
    growth: dip.growth ?? NO_GROWTH,
    draw: answer.draw,
    tolerances: [{ load: load.id, fraction: answer.toleranceFraction }],
  };
}

/**
 * Battery resistance of the profile plus the path's; both are needed. What the profile tells is the resistance of the stated
 * time, as a report tells it: it grows no more.
 */
function fromProfile(profile: BusProfile | null): SourceAnswer {
  const battery = profile?.battery?.resistanceOhm;
  if (battery === undefined) return { known: false, reason: "no-current-reference" };
  const path = profile?.pathResistanceOhm;
  if (path === undefined) return { known: false, reason: "path-unknown" };
  return {
    known: true,
    resistanceOhm: battery.value + path.value,
    uOhm: rootSumSquares(battery.u, path.u),
    route: "known-resistance",
    load: null,
    current: null,
    currents: [],
    rows: [row("known-resistance", battery, "Ohm", 1), row("path-resistance", path, "Ohm", 1)],
    growth: NO_GROWTH,
    draw: (random) => battery.value + battery.u * random.normal() + path.value + path.u * random.normal(),
    tolerances: [],
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
  const low = value - 1.96 * rootSumSquares(battery.u, path?.u ?? 0);
  return low > 0 ? low : null;
}
