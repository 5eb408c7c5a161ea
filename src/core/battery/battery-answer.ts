import type { BatteryAnswer, UncertaintyBudget } from "../analysis.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import { uncertaintyBudget } from "../estimation/uncertainty-budget.js";
import type { Assumption } from "../notes.js";
import type { BusProfile } from "../profile.js";
import { normalQuantity } from "../quantity/interval.js";
import type { Recording } from "../series/recording.js";

export interface BatteryInput {
  readonly source: SourceAnswer;
  readonly profile: BusProfile | null;
  readonly recording: Recording;
  readonly regulated: boolean;
}

/** What the recording says of the battery: source and internal resistance; what it cannot say, with the reason. */
export function batteryAnswer(input: BatteryInput): {
  readonly answer: BatteryAnswer;
  readonly budgets: readonly UncertaintyBudget[];
  readonly assumptions: readonly Assumption[];
} {
  const { source, profile } = input;
  const assumptions: Assumption[] = [];
  const budgets: UncertaintyBudget[] = [];
  const unknown = (
    what: "resistance" | "internal-resistance" | "open-circuit" | "endurance",
    why: Parameters<typeof note>[1],
  ) => assumptions.push(note(what, why));
  let answer: Pick<BatteryAnswer, "source" | "internal"> = { source: null, internal: null };
  if (input.regulated) {
    unknown("resistance", "source-is-regulated");
  } else if (!source.known) {
    unknown("resistance", source.reason);
  } else {
    answer = resistances(source, profile, assumptions, budgets);
  }
  unknown("open-circuit", "no-bus-current");
  unknown("endurance", profile?.battery?.capacityAh === undefined ? "no-capacity" : "no-bus-current");
  return {
    answer: {
      openCircuit: null,
      ...answer,
      endurance: null,
      requiredEnduranceMin: profile?.requiredEnduranceMin ?? null,
    },
    budgets,
    assumptions,
  };
}

function resistances(
  source: Extract<SourceAnswer, { known: true }>,
  profile: BusProfile | null,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): Pick<BatteryAnswer, "source" | "internal"> {
  const atS = 1;
  const { resistanceOhm, uOhm, route, rows } = source;
  assumptions.push({ code: "resistance-at", atS });
  budgets.push(
    uncertaintyBudget(rows, { quantity: "source-resistance", load: source.load, unit: "Ohm", value: resistanceOhm }),
  );
  const sourceAt = { atS, resistance: normalQuantity(resistanceOhm, uOhm, "Ohm", route) };
  const path = profile?.pathResistanceOhm;
  if (path === undefined) {
    assumptions.push({ code: "path-resistance-unknown" }, note("internal-resistance", "path-unknown"));
    return { source: sourceAt, internal: null };
  }
  assumptions.push({ code: "path-resistance-from-profile", valueOhm: path.value, uOhm: path.u });
  const internalOhm = resistanceOhm - path.value;
  const inputs = [
    ...rows,
    { source: "path-resistance", value: path.value, unit: "Ohm", u: path.u, sensitivity: -1 } as const,
  ];
  const budget = uncertaintyBudget(inputs, {
    quantity: "internal-resistance",
    load: source.load,
    unit: "Ohm",
    value: internalOhm,
  });
  budgets.push(budget);
  return { source: sourceAt, internal: { atS, resistance: normalQuantity(internalOhm, budget.u, "Ohm", route) } };
}

function note(
  what: Extract<Assumption, { code: "not-identifiable" }>["what"],
  why: Extract<Assumption, { code: "not-identifiable" }>["why"],
): Assumption {
  return { code: "not-identifiable", what, load: null, why };
}
