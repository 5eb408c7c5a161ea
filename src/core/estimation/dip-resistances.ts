import type { ResistanceAt } from "../analysis.js";
import type { UnknownReason } from "../notes.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { power, rootSumSquares, squared } from "../statistics/portable-power.js";
import { currentSteps } from "./current-step.js";
import { resistanceAtSteps, type StepResistance, dischargeSign as signOfDischarge } from "./step-resistance.js";

/** Source resistance read directly from the steps of a measured current, without a fitted model. */
export interface MeasuredSteps {
  /** Steps by which a load was switched on. */
  readonly onSteps: readonly StepResistance[];
  /** Why none of them tells anything; null where some do. */
  readonly reason: UnknownReason | null;
  /** 1 where a positive current discharges, -1 where it charges; null where nothing tells. */
  readonly dischargeSign: 1 | -1 | null;
}

/** What one measured step says about the dip that begins with it. */
export interface MeasuredDip {
  readonly depth: Uncertain;
  readonly current: Uncertain;
  readonly resistances: readonly ResistanceAt[];
}

/** Finds the discharge steps of the measured current and the resistance at each; null where no current was measured. */
export function measuredSteps(
  recording: Recording,
  lagS: number | undefined,
  dischargeSign: 1 | -1 | null,
): MeasuredSteps | null {
  if (recording.current === undefined) return null;
  const steps = currentSteps(recording.current);
  const resistances = resistanceAtSteps(recording, steps, {
    ...(lagS === undefined ? {} : { lagS }),
    dischargeSign,
  });
  const sign = dischargeSign ?? signOfDischarge(resistances.flatMap(({ answers }) => answers));
  const onSteps = resistances.filter(
    ({ step, charging }) => !charging && Math.abs(step.afterA) > Math.abs(step.beforeA),
  );
  const known = onSteps.some(({ answers }) => answers.some(({ answer }) => answer.known));
  const refused = onSteps.flatMap(({ answers }) =>
    answers.flatMap(({ answer }) => (answer.known ? [] : [answer.reason])),
  );
  return { onSteps, reason: known ? null : (refused[0] ?? "no-current-step"), dischargeSign: sign };
}

/** A step read on its own is good enough to state when its relative standard uncertainty is below this. */
const CLEAR_FRACTION = 0.05;

/** The measured step at the onset of a dip, when it is clear enough; null otherwise. */
export function measuredDip(steps: MeasuredSteps | null, onsetS: number, uOnsetS: number): MeasuredDip | null {
  const near = steps?.onSteps.find(
    ({ step }) => onsetS >= step.beforeS - 2 * uOnsetS - 0.5 && onsetS <= step.afterS + 2 * uOnsetS + 0.5,
  );
  const first = near?.answers.find((timed) => timed.first)?.answer;
  if (near === undefined || first === undefined || !first.known) return null;
  if (first.uOhm > CLEAR_FRACTION * first.resistanceOhm) return null;
  const currentRow = first.rows.find(({ source }) => source === "measured-current");
  const voltageRows = first.rows.filter(({ source }) => source !== "measured-current");
  return {
    depth: { value: Math.abs(first.changeV), u: rootSumSquares(...voltageRows.map(({ u }) => u)) },
    current: { value: Math.abs(first.changeA), u: currentRow?.u ?? 0 },
    resistances: near.answers.flatMap(({ atS, answer }): ResistanceAt[] =>
      answer.known
        ? [{ atS, resistance: normalQuantity(answer.resistanceOhm, answer.uOhm, "Ohm", "measured-current") }]
        : [],
    ),
  };
}

/**
 * One resistance for the recording from its clear steps, at the stated time that most of them have; null where fewer
 * than one has any.
 *
 * Weighted mean; its uncertainty is no smaller than the scatter between the steps, since the battery itself changes
 * with its state of charge.
 */
export function resistanceOfSteps(
  dips: readonly { readonly resistances: readonly ResistanceAt[] }[],
): ResistanceAt | null {
  for (const atS of [1, 10]) {
    const found = dips.flatMap(({ resistances }) =>
      resistances.filter((one) => Math.abs(one.atS - atS) < 1e-6).map(({ resistance }) => resistance),
    );
    if (found.length === 0 || found.length < dips.length / 2) continue;
    let weight = 0;
    let sum = 0;
    let uCommon = Number.POSITIVE_INFINITY;
    for (const { value, u } of found) {
      weight += power(u, -2);
      sum += value / squared(u);
      uCommon = Math.min(uCommon, u);
    }
    const mean = sum / weight;
    const scatter =
      found.length < 2
        ? 0
        : Math.sqrt(found.reduce((s, { value }) => s + squared(value - mean), 0) / (found.length - 1));
    return { atS, resistance: normalQuantity(mean, rootSumSquares(uCommon, scatter), "Ohm", "measured-current") };
  }
  return null;
}
