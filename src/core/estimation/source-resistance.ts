import type { LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { type Answer, unanswered } from "./answer.js";
import { currentAtVoltage, type LoadLaw, loadLaw } from "./load-kind.js";
import type { Draw } from "./propagated-quantity.js";
import { type BudgetInput, rectangularU } from "./uncertainty-budget.js";

/** Half-width of the rating of a reference load where the profile gives none. Common practice, no source. */
export const RATING_TOLERANCE_FRACTION = 0.05;

/** A dip shallower than this many standard uncertainties cannot serve as a reference. */
export const LEAST_REFERENCE_RATIO = 4;

export interface ReferenceDip {
  /** Depth, volts. */
  readonly depth: Uncertain;
  /** Terminal voltage before the dip, volts. */
  readonly busV: Uncertain;
}

export interface ReferenceResistance {
  readonly resistanceOhm: number;
  readonly uOhm: number;
  /** Current of the reference load during the dip, and its uncertainty from rating and voltage (not from the depth). */
  readonly currentA: number;
  readonly uCurrentA: number;
  readonly toleranceFraction: number;
  readonly rows: readonly BudgetInput[];
  /** The resistance with rating (rectangular), depth and voltage (normal) drawn anew, ohms. */
  readonly draw: Draw;
  /** The current of the load with rating and voltage drawn anew, amperes. */
  readonly drawA: Draw;
}

/**
 * Source resistance from the dip of a load whose rating is known.
 *
 * Resistive load: `R = R_L d / (V - d)`; constant power: `R = d (V - d) / P`; constant current: `R = d / I`, with depth
 * `d` and the terminal voltage `V` before the dip. Unknown where the load has no rating or its dip is less than 4
 * standard uncertainties deep.
 */
export function resistanceFromReference(
  load: Pick<LoadProfile, "kind" | "rated">,
  dip: ReferenceDip,
): Answer<ReferenceResistance> {
  if (load.rated === undefined) return unanswered("no-current-reference");
  const { depth, busV } = dip;
  if (!(depth.value >= LEAST_REFERENCE_RATIO * depth.u)) return unanswered("reference-too-weak");
  const law = loadLaw(load.kind, load.rated);
  const toleranceFraction = load.rated.toleranceFraction ?? RATING_TOLERANCE_FRACTION;
  const terminalV = busV.value - depth.value;
  const currentA = currentAtVoltage(law, terminalV);
  const resistanceOhm = depth.value / currentA;
  const slopes = slopesOf(law, depth.value, busV.value, currentA);
  const uRated = rectangularU(toleranceFraction);
  const rows: BudgetInput[] = [
    { source: "reference-depth", value: depth.value, unit: "V", u: depth.u, sensitivity: slopes.byDepth },
    // The rating counts by its fraction: power, resistance and current all scale the result alike.
    { source: "reference-rating", value: 1, unit: "1", u: uRated, sensitivity: -resistanceOhm },
    { source: "bus-voltage", value: busV.value, unit: "V", u: busV.u, sensitivity: slopes.byBus },
  ];
  const byBusA = (-slopes.byBus * currentA) / resistanceOhm;
  return {
    known: true,
    resistanceOhm,
    uOhm: rootSumSquares(...rows.map((row) => row.sensitivity * row.u)),
    currentA,
    uCurrentA: rootSumSquares(currentA * uRated, byBusA * busV.u),
    toleranceFraction,
    rows,
    drawA: (random) => {
      const drawnV = terminalV + busV.u * random.normal();
      return (1 + toleranceFraction * (2 * random.uniform() - 1)) * currentAtVoltage(law, drawnV);
    },
    draw: (random) => {
      const depthV = depth.value + depth.u * random.normal();
      const rating = 1 + toleranceFraction * (2 * random.uniform() - 1);
      return depthV / (rating * currentAtVoltage(law, busV.value + busV.u * random.normal() - depthV));
    },
  };
}

function slopesOf(law: LoadLaw, depthV: number, busV: number, currentA: number): { byDepth: number; byBus: number } {
  if (law.kind === "current") return { byDepth: 1 / currentA, byBus: 0 };
  if (law.kind === "power") return { byDepth: (busV - 2 * depthV) / law.powerW, byBus: depthV / law.powerW };
  const terminalV = busV - depthV;
  return {
    byDepth: (law.resistanceOhm * busV) / squared(terminalV),
    byBus: (-law.resistanceOhm * depthV) / squared(terminalV),
  };
}
