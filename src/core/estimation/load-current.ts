import type { UncertaintyBudget } from "../analysis.js";
import type { Uncertain } from "../quantity/quantity.js";
import { normalQuantile } from "../statistics/distribution.js";
import { exponential, logarithmOfOnePlus } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { type Answer, unanswered } from "./answer.js";
import { fiellerInterval } from "./fieller.js";
import { monteCarlo, symmetricInterval } from "./monte-carlo.js";
import { LEAST_REFERENCE_RATIO } from "./source-resistance.js";
import type { BudgetInput } from "./uncertainty-budget.js";

/** From this many standard uncertainties of the reference dip on, the first-order interval is good enough. */
const FIRST_ORDER_RATIO = 10;

/** A current during a dip with its coverage interval. */
export interface LoadCurrent {
  readonly currentA: number;
  readonly uA: number;
  readonly low: number;
  readonly high: number;
  readonly method: UncertaintyBudget["method"];
  readonly rows: readonly BudgetInput[];
}

/**
 * Current of a load from its depth and a known source resistance, `I = d (1 + g) / R`; the same for every kind of load, since
 * it is the current that flowed during the dip. `growth` is the share `g` by which the dip's own resistance grows until the time
 * at which `R` is stated; none for an immediate one.
 *
 * The resistance is taken as log-normal. Where the interval so drawn departs from the first-order one by more than 10 %
 * of its half-width, or u(R)/R exceeds 10 %, the drawn one is given.
 * Source: JCGM 100:2008, 5.1.2; JCGM 101:2008, clause 8.
 */
export function currentFromResistance(
  depth: Uncertain,
  resistance: Uncertain,
  options: {
    readonly coverage: number;
    readonly random: RandomGenerator;
    readonly drawCount?: number;
    readonly growth?: Uncertain;
  },
): Answer<LoadCurrent> {
  if (!(resistance.value > 0)) return unanswered("no-current-reference");
  const { growth } = options;
  const factor = 1 + (growth?.value ?? 0);
  const currentA = (depth.value * factor) / resistance.value;
  const rows: BudgetInput[] = [
    { source: "depth", value: depth.value, unit: "V", u: depth.u, sensitivity: factor / resistance.value },
    {
      source: "known-resistance",
      value: resistance.value,
      unit: "Ohm",
      u: resistance.u,
      sensitivity: -currentA / resistance.value,
    },
    ...(growth === undefined
      ? []
      : [
          {
            source: "switching-time-and-shape",
            value: factor,
            unit: "1",
            u: growth.u,
            sensitivity: depth.value / resistance.value,
          } as const,
        ]),
  ];
  const uA = rootSumSquares(...rows.map((row) => row.sensitivity * row.u));
  const half = normalQuantile((1 + options.coverage) / 2) * uA;
  const firstOrder = { currentA, uA, low: currentA - half, high: currentA + half, rows };
  // The median of the log-normal stays at the stated value; its logarithm has this standard deviation.
  const spread = Math.sqrt(logarithmOfOnePlus(squared(resistance.u / resistance.value)));
  const drawn = monteCarlo(
    (random) => {
      const drawnV = depth.value + depth.u * random.normal();
      const drawnOhm = resistance.value * exponential(spread * random.normal());
      return (drawnV * (growth === undefined ? 1 : factor + growth.u * random.normal())) / drawnOhm;
    },
    options.random,
    options.drawCount ?? 100_000,
  );
  const interval = symmetricInterval(drawn.sorted, options.coverage);
  const departs = Math.max(Math.abs(interval.low - firstOrder.low), Math.abs(interval.high - firstOrder.high));
  if (departs <= 0.1 * half && resistance.u <= 0.1 * resistance.value) {
    return { known: true, ...firstOrder, method: "first-order" };
  }
  return { known: true, currentA, uA: drawn.u, ...interval, rows, method: "monte-carlo" };
}

export interface ReferenceRatioInput {
  readonly depth: Uncertain;
  /** Depth of the reference load at the same time after its onset. */
  readonly referenceDepth: Uncertain;
  /** Current of the reference load during its dip. */
  readonly referenceCurrentA: Uncertain;
  /** Correlation coefficient of the two depths; 0 when left out. */
  readonly correlation?: number;
}

/**
 * Current of a load from its depth beside that of a reference load, `I = I_ref d / d_ref`.
 *
 * The source resistance cancels, and with it temperature and state of charge. The interval is first-order from a
 * reference dip of 10 standard uncertainties on, Fieller's down to 4, and below that the ratio is unknown. Depths in volts,
 * currents in amperes. Source: JCGM 100:2008, 5.1.2 and 5.2.2; Fieller 1954, J. Royal Statistical Society B 16 (from memory).
 */
export function currentByReference(input: ReferenceRatioInput, options: { coverage: number }): Answer<LoadCurrent> {
  const { depth, referenceDepth, referenceCurrentA, correlation = 0 } = input;
  const strength = referenceDepth.value / referenceDepth.u;
  if (!(strength >= LEAST_REFERENCE_RATIO)) return unanswered("reference-too-weak");
  const currentA = (referenceCurrentA.value * depth.value) / referenceDepth.value;
  const byDepth = referenceCurrentA.value / referenceDepth.value;
  const byReferenceDepth = -currentA / referenceDepth.value;
  const byCurrent = depth.value / referenceDepth.value;
  const rows: BudgetInput[] = [
    { source: "depth", value: depth.value, unit: "V", u: depth.u, sensitivity: byDepth },
    {
      source: "reference-depth",
      value: referenceDepth.value,
      unit: "V",
      u: referenceDepth.u,
      sensitivity: byReferenceDepth,
    },
    {
      source: "reference-rating",
      value: referenceCurrentA.value,
      unit: "A",
      u: referenceCurrentA.u,
      sensitivity: byCurrent,
    },
  ];
  const covariance = correlation * depth.u * referenceDepth.u;
  const variance =
    rows.reduce((sum, row) => sum + squared(row.sensitivity * row.u), 0) + 2 * byDepth * byReferenceDepth * covariance;
  const uA = Math.sqrt(Math.max(0, variance));
  const factor = normalQuantile((1 + options.coverage) / 2);
  if (strength >= FIRST_ORDER_RATIO) {
    const half = factor * uA;
    return { known: true, currentA, uA, low: currentA - half, high: currentA + half, method: "first-order", rows };
  }
  const interval = fiellerInterval(
    {
      numerator: referenceCurrentA.value * depth.value,
      uNumerator: rootSumSquares(referenceCurrentA.value * depth.u, depth.value * referenceCurrentA.u),
      denominator: referenceDepth.value,
      uDenominator: referenceDepth.u,
      covariance: referenceCurrentA.value * covariance,
    },
    factor,
  );
  if (!interval.bounded) return unanswered("reference-too-weak");
  return { known: true, currentA, uA, low: interval.low, high: interval.high, method: "fieller", rows };
}
