import type { SourceModel } from "../analysis.js";
import { type CurrentStep, currentSteps } from "../estimation/current-step.js";
import { propagatedQuantity } from "../estimation/propagated-quantity.js";
import type { CurrentLevel } from "../estimation/relaxation-columns.js";
import { type PartsNotTold, theveninFit } from "../estimation/thevenin.js";
import type { UnknownReason } from "../notes.js";
import type { MeterProfile } from "../profile.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { workingSeries } from "../series/working-series.js";
import { exponential } from "../statistics/portable-exponential.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";

/** Ohmic part and polarisation of the source, or why they cannot be told apart. */
export type Polarization =
  | { readonly known: true; readonly model: SourceModel }
  | { readonly known: false; readonly why: UnknownReason };

/** Readings before the first and after the last step that are fitted with them, seconds. */
const BEFORE_S = 30;
const AFTER_S = 120;
/** More readings than this are averaged in blocks. */
const MOST_READINGS = 3000;
/** A lag of the profile is trusted to this share of itself. */
const LAG_SHARE = 0.2;

/**
 * Splits the source resistance into its ohmic part and one or two resistor-capacitor pairs, where a measured current and
 * the sampling show them. Null where no current was measured.
 */
export function polarization(
  recording: Recording,
  meter: MeterProfile | undefined,
  dischargeSign: 1 | -1 | null,
  random: RandomGenerator,
): Polarization | null {
  if (recording.current === undefined) return null;
  const steps = currentSteps(recording.current);
  if (steps.length === 0 || dischargeSign === null) return { known: false, why: "no-current-step" };
  const readings = readingsAround(recording, steps);
  if (readings.timesS.length < 12) return { known: false, why: "sampled-too-slowly" };
  const lagS = meter?.lagS ?? 0;
  const fit = theveninFit({
    ...readings,
    levels: levelsOf(steps, dischargeSign),
    ...(lagS > 0 ? { lagS: { value: lagS, u: LAG_SHARE * lagS } } : {}),
  });
  if (!fit.parts.known) return { known: false, why: reasonOf(fit.parts) };
  const { ohmicOhm, pairs } = fit.parts;
  // A step that came earlier leaves a pair less and the ohmic part more: by what the pair rises in that time.
  const uOnsetS = rootSumSquares(...steps.map((step) => step.uOnsetS)) / steps.length;
  const movedOhm = pairs.map(
    ({ resistanceOhm, timeConstantS }) => (resistanceOhm.value / timeConstantS.value) * uOnsetS,
  );
  const allMovedOhm = movedOhm.reduce((sum, moved) => sum + moved, 0);
  return {
    known: true,
    model: {
      ohmic: resistanceOf(ohmicOhm, allMovedOhm),
      pairs: pairs.map(({ resistanceOhm, timeConstantS }, k) => ({
        resistance: resistanceOf(resistanceOhm, movedOhm[k]),
        timeConstant: timeConstantOf(timeConstantS, random),
      })),
    },
  };
}

function resistanceOf({ value, u }: Uncertain, movedOhm: number): Quantity<"Ohm"> {
  return normalQuantity(value, rootSumSquares(u, movedOhm), "Ohm", "measured-current");
}

/**
 * A time constant is fitted as its logarithm: its interval is drawn so, and taken where it departs from the first order.
 * The resistances enter the fit linearly.
 */
function timeConstantOf({ value, u }: Uncertain, random: RandomGenerator): Quantity<"s"> {
  const sd = u / value;
  return propagatedQuantity(
    { value, u, unit: "s", route: "measured-current" },
    (generator) => value * exponential(sd * generator.normal()),
    random,
  ).quantity;
}

function reasonOf({ why }: PartsNotTold): UnknownReason {
  if (why === "too-fast") return "polarization-too-fast";
  return why === "too-slow" ? "polarization-too-slow" : "polarization-too-faint";
}

/** Discharge current above that before the first step. */
function levelsOf(steps: readonly CurrentStep[], sign: 1 | -1): CurrentLevel[] {
  const base = steps[0].beforeA;
  return steps.map(({ onsetS, afterA }) => ({ timeS: onsetS, currentA: sign * (afterA - base) }));
}

/** The readings around the steps, few enough to fit; blocks that hold a step are left out. */
function readingsAround(recording: Recording, steps: readonly CurrentStep[]) {
  const { timesS, voltagesV } = recording;
  const fromS = steps[0].beforeS - BEFORE_S;
  const toS = steps[steps.length - 1].afterS + AFTER_S;
  const start = timesS.findIndex((t) => t >= fromS);
  const after = timesS.findIndex((t) => t > toS);
  const range = { start: Math.max(start, 0), end: after < 0 ? timesS.length : after };
  const count = range.end - range.start;
  const blockS = count > MOST_READINGS ? (timesS[range.end - 1] - timesS[range.start]) / MOST_READINGS : 0;
  const series = workingSeries(timesS, voltagesV, range, blockS);
  const clear = (t: number) =>
    steps.every(({ beforeS, afterS, onsetS }) =>
      blockS > 0 ? Math.abs(t - onsetS) > blockS : t <= beforeS || t >= afterS || beforeS === afterS,
    );
  const kept = Array.from(series.timesS.keys()).filter((i) => clear(series.timesS[i]));
  return {
    timesS: Float64Array.from(kept, (i) => series.timesS[i]),
    voltagesV: Float64Array.from(kept, (i) => series.valuesV[i]),
  };
}
