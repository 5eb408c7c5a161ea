import {
  analyze,
  type BusProfile,
  type CheckPlan,
  type LoadKind,
  planCheck,
  readingsFromQuiet,
} from "../../src/core/index.js";
import { type DipShape, dipTrain } from "./dip-shape.js";
import { drawNoise, NO_NOISE, type NoiseParts } from "./noise.js";
import { type RandomStream, randomStream } from "./random.js";

/** One kind of reading and of load, for which a plan is made and then tried. */
export interface PlanCell {
  readonly name: string;
  readonly noise: NoiseParts;
  /** Loads of the check: kind, and the dip of the lowest acceptable current, volts. */
  readonly loads: readonly { readonly kind: LoadKind; readonly lowestV: number }[];
  readonly rateHz: number;
}

const WHITE: NoiseParts = { ...NO_NOISE, whiteV: 0.03 };
const COLOURED: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.03 };
const WALK: NoiseParts = { ...NO_NOISE, whiteV: 0.02, colouredV: 0.02, walkVPerRtS: 0.006 };

/** Depths are set where the wanted power needs from three to a dozen switchings. */
export const PLAN_CELLS: readonly PlanCell[] = [
  { name: "white, heater", noise: WHITE, loads: [{ kind: "heater", lowestV: 0.0125 }], rateHz: 10 },
  { name: "white, resistive", noise: WHITE, loads: [{ kind: "resistive", lowestV: 0.0105 }], rateHz: 10 },
  { name: "coloured, heater", noise: COLOURED, loads: [{ kind: "heater", lowestV: 0.03 }], rateHz: 10 },
  { name: "coloured, resistive", noise: COLOURED, loads: [{ kind: "resistive", lowestV: 0.04 }], rateHz: 20 },
  { name: "wander, heater", noise: WALK, loads: [{ kind: "heater", lowestV: 0.03 }], rateHz: 10 },
  { name: "wander, resistive", noise: WALK, loads: [{ kind: "resistive", lowestV: 0.028 }], rateHz: 5 },
  {
    name: "wander, three loads",
    noise: WALK,
    loads: [
      { kind: "heater", lowestV: 0.03 },
      { kind: "resistive", lowestV: 0.045 },
      { kind: "heater", lowestV: 0.05 },
    ],
    rateHz: 10,
  },
];

const LAG_S = 0.25;
const RESISTANCE_OHM = 0.0125;
/** Quiet seconds from which the plan takes its noise. */
const QUIET_RECORDING_S = 900;
const MARK_ERROR_S = 0.2;

/** The profile of a cell: the resistance is known without doubt, so that the lowest dip is exactly the planned one. */
export function cellProfile(cell: PlanCell): BusProfile {
  return {
    battery: { chemistry: "lead-acid", cells: 12, resistanceOhm: { value: RESISTANCE_OHM, u: 0 } },
    pathResistanceOhm: { value: 0, u: 0 },
    meter: { lagS: LAG_S },
    loads: cell.loads.map(({ kind, lowestV }, k) => ({
      id: `load-${k + 1}`,
      kind,
      acceptA: [lowestV / RESISTANCE_OHM, (2 * lowestV) / RESISTANCE_OHM],
      reference: false,
    })),
  };
}

/** The plan that a quiet recording of this noise leads to. */
export function cellPlan(cell: PlanCell, seed: number): CheckPlan {
  const timesS = evenTimes(QUIET_RECORDING_S, cell.rateHz);
  const noiseV = drawNoise(cell.noise, timesS, null, randomStream(seed, cell.name, "quiet"));
  const readings = readingsFromQuiet({ timesS, voltagesV: noiseV.map((v) => v + 24.5) });
  return planCheck(cellProfile(cell), { readings });
}

/** Runs one planned check, every load at its lowest acceptable current; which loads are said to have responded. */
export function runCheck(cell: PlanCell, plan: CheckPlan, seed: number): readonly boolean[] {
  const random = randomStream(seed, cell.name, "check");
  const timesS = evenTimes(plan.durationS, cell.rateHz);
  const voltagesV = drawNoise(cell.noise, timesS, null, random).map((v) => v + 24.5);
  cell.loads.forEach(({ kind, lowestV }, k) => {
    const fall = dipTrain(drawShape(kind, random), hand(plan, `load-${k + 1}`, random), timesS);
    for (let i = 0; i < timesS.length; i++) voltagesV[i]! -= lowestV * fall[i]!;
  });
  const analysis = analyze({ timesS, voltagesV }, { marks: plan.marks, profile: cellProfile(cell), seed });
  return cell.loads.map((_, k) => analysis.loads.find(({ id }) => id === `load-${k + 1}`)?.verdict === "responded");
}

function evenTimes(durationS: number, rateHz: number): Float64Array {
  return Float64Array.from({ length: Math.floor(durationS * rateHz) }, (_, i) => i / rateHz);
}

/** True times of the switch: the beat, kept by a hand. */
function hand(plan: CheckPlan, load: string, random: RandomStream): { readonly onS: number; readonly offS: number }[] {
  const marks = plan.marks.filter((mark) => mark.load === load);
  const moved = (timeS: number) => timeS + MARK_ERROR_S * random.normal();
  return marks
    .filter(({ action }) => action === "on")
    .map(({ timeS }) => ({
      onS: moved(timeS),
      offS: moved(marks.find((mark) => mark.action === "off" && mark.timeS > timeS)!.timeS),
    }));
}

function drawShape(kind: LoadKind, random: RandomStream): DipShape {
  return {
    inrush: kind === "heater" ? random.between([0, 1]) : 0,
    settleS: random.between([2, 4]),
    polarization: random.between([0.1, 0.5]),
    polarizationTimeS: random.between([10, 30]),
    lagS: LAG_S,
    lagOrder: 1,
  };
}
