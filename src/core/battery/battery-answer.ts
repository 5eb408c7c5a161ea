import type {
  BatteryAnswer,
  Dip,
  ResistanceAt,
  SourceModel,
  TwoCurrentFigure,
  UncertaintyBudget,
} from "../analysis.js";
import { type MeasuredSteps, resistanceOfSteps } from "../estimation/dip-resistances.js";
import { type Draw, normalDraw, propagatedQuantity } from "../estimation/propagated-quantity.js";
import type { SourceAnswer } from "../estimation/source-from-recording.js";
import { STATED_TIME_S } from "../estimation/stated-time.js";
import { type BudgetInput, uncertaintyBudget } from "../estimation/uncertainty-budget.js";
import type { Assumption } from "../notes.js";
import type { BusProfile } from "../profile.js";
import { COVERAGE } from "../quantity/interval.js";
import type { Quantity, Uncertain } from "../quantity/quantity.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";
import { busCurrent } from "./bus-current.js";
import { endurance } from "./endurance.js";
import { normalizationRows, normalizedDraw, normalizedResistance, REFERENCE_C } from "./normalization.js";
import { openCircuit } from "./open-circuit.js";
import type { Polarization } from "./polarization.js";

export interface BatteryInput {
  readonly source: SourceAnswer;
  readonly dips: readonly Dip[];
  /** Steps of a measured current; null where none was measured. */
  readonly steps: MeasuredSteps | null;
  readonly profile: BusProfile | null;
  /** Current with the switched loads off; null where none was measured. */
  readonly baseA: Uncertain | null;
  /** Level of the bus with the switched loads off, volts; null where nothing was judged. */
  readonly busV: Uncertain | null;
  readonly random: RandomGenerator;
  readonly regulated: boolean;
  readonly temperatureC: Uncertain | null;
  readonly stateOfCharge: Uncertain | null;
  /** Null where no current was measured. */
  readonly polarization: Polarization | null;
  readonly twoCurrent: readonly TwoCurrentFigure[];
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
  let answer: Resistances = { source: null, internal: null, drawSourceOhm: null, drawInternalOhm: null };
  const stepped = resistanceOfSteps(input.dips);
  if (input.regulated) {
    unknown("resistance", "source-is-regulated");
  } else if (stepped !== null && !isSharper(source, stepped)) {
    answer = fromSteps(stepped, input, assumptions, budgets);
  } else if (!source.known) {
    unknown("resistance", input.steps?.reason ?? source.reason);
  } else {
    answer = resistances(source, input, assumptions, budgets);
  }
  const rested = openCircuit(input, answer.source?.resistance ?? null, answer.drawSourceOhm, input.random);
  if (rested === null) unknown("open-circuit", input.baseA === null ? "no-bus-current" : "no-current-reference");
  else budgets.push(rested.budget);
  const model = modelOf(input, assumptions);
  const normalized = normalizedOf(answer, input, assumptions, budgets);
  const minutes = enduranceOf(input, assumptions, budgets);
  return {
    answer: {
      openCircuit: rested?.quantity ?? null,
      source: answer.source,
      internal: answer.internal,
      normalized,
      model,
      twoCurrent: input.regulated ? [] : input.twoCurrent,
      endurance: minutes,
      requiredEnduranceMin: profile?.requiredEnduranceMin ?? null,
    },
    budgets,
    assumptions,
  };
}

/** Source and internal resistance, and both as draws for what rests on them. */
type Resistances = Pick<BatteryAnswer, "source" | "internal"> & {
  readonly drawSourceOhm: Draw | null;
  readonly drawInternalOhm: Draw | null;
};

/** Minutes on battery with every load of the profile on; null, with the reason noted, where it cannot be told. */
function enduranceOf(
  input: BatteryInput,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): Quantity<"min"> | null {
  const { profile, busV } = input;
  const current =
    input.regulated || busV === null ? null : busCurrent(profile, input.baseA ?? profile?.busCurrentA ?? null, busV);
  const { capacityAh, chemistry } = profile?.battery ?? {};
  const found = endurance(
    {
      ...(capacityAh === undefined ? {} : { capacityAh }),
      ...(chemistry === undefined ? {} : { chemistry }),
      ...(current === null ? {} : { busCurrentA: current }),
    },
    { coverage: COVERAGE, random: input.random, drawCount: 20_000 },
  );
  if (!found.known) {
    assumptions.push(note("endurance", found.reason));
    return null;
  }
  assumptions.push(
    { code: "endurance-model", derateLow: found.derateLow, derateHigh: found.derateHigh },
    {
      code: "bus-current",
      currentA: current!.value,
      uA: current!.u,
      baseMeasured: current!.baseMeasured,
      loadCount: profile?.loads.length ?? 0,
    },
  );
  const { minutes: value, uMin: u, lowMin: low, highMin: high, rows, method } = found;
  budgets.push(uncertaintyBudget(rows, { quantity: "endurance", load: null, unit: "min", value, method }));
  return { value, u, unit: "min", low, high, coverage: COVERAGE, route: "capacity-and-current" };
}

/** Ohmic part and polarisation; null, with the reason noted where a current was measured, when they cannot be told apart. */
function modelOf({ polarization, profile, regulated }: BatteryInput, assumptions: Assumption[]): SourceModel | null {
  if (polarization === null) return null;
  if (regulated || !polarization.known) {
    assumptions.push(note("polarization", polarization.known ? "source-is-regulated" : polarization.why));
    return null;
  }
  if (profile?.meter?.lagS === undefined) assumptions.push({ code: "meter-follows-at-once" });
  return polarization.model;
}

/** The internal resistance at the reference temperature and full charge; null, with the reason noted, where it is not known. */
function normalizedOf(
  { internal, drawInternalOhm }: Resistances,
  input: BatteryInput,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): ResistanceAt | null {
  if (internal === null || drawInternalOhm === null) {
    assumptions.push(note("normalized", "resistance-unknown"));
    return null;
  }
  const { temperatureC, stateOfCharge, profile } = input;
  const chemistry = profile?.battery?.chemistry;
  const { value: resistanceOhm, u } = internal.resistance;
  const found = normalizedResistance({
    resistanceOhm: { value: resistanceOhm, u },
    ...(temperatureC === null ? {} : { temperatureC }),
    ...(stateOfCharge === null ? {} : { stateOfCharge }),
    ...(chemistry === undefined ? {} : { chemistry }),
  });
  if (!found.known) {
    assumptions.push(note("normalized", found.reason));
    return null;
  }
  const { value } = found.resistanceOhm;
  const rows = normalizationRows(found, { resistanceOhm: { value: resistanceOhm, u }, temperatureC: temperatureC! });
  const { quantity, method } = propagatedQuantity(
    { value, u: found.resistanceOhm.u, unit: "Ohm", route: internal.resistance.route },
    normalizedDraw(found, temperatureC!, drawInternalOhm),
    input.random,
  );
  budgets.push(uncertaintyBudget(rows, { quantity: "normalized-resistance", load: null, unit: "Ohm", value, method }));
  assumptions.push({
    code: "normalized-to",
    temperatureC: temperatureC!.value,
    uTemperatureC: temperatureC!.u,
    referenceC: REFERENCE_C,
    stateOfCharge: found.stateOfCharge.value,
    fittedCoefficients: found.coefficients.origin === "fitted",
  });
  return { atS: internal.atS, resistance: quantity };
}

/** Whether the fitted dips tell the resistance better than the steps read on their own. */
function isSharper(source: SourceAnswer, stepped: ResistanceAt): boolean {
  const { value, u } = stepped.resistance;
  if (!source.known) return false;
  const { growth, uOhm, resistanceOhm } = source;
  return rootSumSquares(uOhm / resistanceOhm, growth.u / (1 + growth.value)) < u / value;
}

/** The resistance that the steps of a measured current show, at their stated time. */
function fromSteps(
  stepped: ResistanceAt,
  input: BatteryInput,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): Resistances {
  const { value, u } = stepped.resistance;
  const row: BudgetInput = { source: "measured-current", value, unit: "Ohm", u, sensitivity: 1 };
  const given = { atS: stepped.atS, rows: [row], load: null, draw: normalDraw({ value, u }) };
  return withPath({ ...given, value, u, unit: "Ohm", route: stepped.resistance.route }, input, assumptions, budgets);
}

function resistances(
  source: Extract<SourceAnswer, { known: true }>,
  input: BatteryInput,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): Resistances {
  const { resistanceOhm, route, load, growth } = source;
  const factor = 1 + growth.value;
  const grown: BudgetInput = {
    source: "switching-time-and-shape",
    value: factor,
    unit: "1",
    u: growth.u,
    sensitivity: resistanceOhm,
  };
  const rows = [...source.rows.map((row) => ({ ...row, sensitivity: row.sensitivity * factor })), grown];
  const found: FoundResistance = {
    atS: STATED_TIME_S,
    value: resistanceOhm * factor,
    u: rootSumSquares(...rows.map((row) => row.sensitivity * row.u)),
    unit: "Ohm",
    route,
    rows,
    load,
    draw: (random) => source.draw(random) * (factor + growth.u * random.normal()),
  };
  return withPath(found, input, assumptions, budgets);
}

/** A source resistance as it was found, with its budget and its draw. */
interface FoundResistance extends Uncertain {
  readonly atS: number;
  readonly unit: "Ohm";
  readonly route: Quantity<"Ohm">["route"];
  readonly rows: readonly BudgetInput[];
  readonly load: string | null;
  readonly draw: Draw;
}

/** Adds the internal resistance where the path to the meter is known. */
function withPath(
  found: FoundResistance,
  { profile, random }: BatteryInput,
  assumptions: Assumption[],
  budgets: UncertaintyBudget[],
): Resistances {
  const { atS, value, rows, load, unit, route } = found;
  const head = { load, unit } as const;
  const source = propagatedQuantity(found, found.draw, random);
  assumptions.push({ code: "resistance-at", atS });
  budgets.push(uncertaintyBudget(rows, { ...head, quantity: "source-resistance", value, method: source.method }));
  const path = profile?.pathResistanceOhm;
  const sourceOnly: Resistances = {
    source: { atS, resistance: source.quantity },
    internal: null,
    drawSourceOhm: found.draw,
    drawInternalOhm: null,
  };
  if (path === undefined) {
    assumptions.push({ code: "path-resistance-unknown" }, note("internal-resistance", "path-unknown"));
    return sourceOnly;
  }
  if (value <= path.value) {
    assumptions.push(note("internal-resistance", "below-path"));
    return sourceOnly;
  }
  assumptions.push({ code: "path-resistance-from-profile", valueOhm: path.value, uOhm: path.u });
  const { value: pathOhm, u: uPathOhm } = path;
  const allRows: BudgetInput[] = [
    ...rows,
    { source: "path-resistance", value: pathOhm, unit: "Ohm", u: uPathOhm, sensitivity: -1 },
  ];
  const u = rootSumSquares(...allRows.map((row) => row.sensitivity * row.u));
  const drawPathOhm = normalDraw(path);
  const drawInternalOhm: Draw = (generator) => found.draw(generator) - drawPathOhm(generator);
  const internalOhm = value - pathOhm;
  const internal = propagatedQuantity({ value: internalOhm, u, unit, route }, drawInternalOhm, random);
  budgets.push(
    uncertaintyBudget(allRows, {
      ...head,
      quantity: "internal-resistance",
      value: internalOhm,
      method: internal.method,
    }),
  );
  return {
    source: { atS, resistance: source.quantity },
    internal: { atS, resistance: internal.quantity },
    drawSourceOhm: found.draw,
    drawInternalOhm,
  };
}

function note(
  what: Extract<Assumption, { code: "not-identifiable" }>["what"],
  why: Extract<Assumption, { code: "not-identifiable" }>["why"],
): Assumption {
  return { code: "not-identifiable", what, load: null, why };
}
