import { writeMarks } from "../../src/importers/profile/marks.js";
import { currentOf, type SimulatedSwitching, simulateBus, type TrueSignal } from "./bus-circuit.js";
import { agingBattery, baseLoad, clampMeter, essentialBus } from "./ice-2.js";
import { readThroughMeter, type SimulatedMeter } from "./panel-meter.js";
import { noteDown, rampCheck } from "./ramp-check.js";
import { randomSource } from "./random-source.js";

const STEP_S = 0.01;

/** What a sample shows and how it is made. */
export interface SamplePlan {
  /** File name without ending. */
  readonly name: string;
  readonly seed: number;
  readonly about: string;
  readonly loads: readonly string[];
  readonly repeatCount: number;
  readonly meter: SimulatedMeter;
  readonly withMarks: boolean;
  readonly withCurrent: boolean;
}

/** The truth behind one load's switchings, from the noiseless signal. */
export interface LoadTruth {
  readonly load: string;
  readonly draws: boolean;
  /** Mean current over the last second of the on times. */
  readonly settledCurrent_A: number;
  /** Current after a very long on time, at the bus voltage of the last second. */
  readonly steadyCurrent_A: number;
  /** Highest current of any on time. */
  readonly coldCurrent_A: number;
  /** Rise of the battery's current over the last second of the on times; other loads answer to the dip as well. */
  readonly batteryStep_A: number;
  /** Mean over the on times of the voltage without this load less the voltage with it, at the sensing point. */
  readonly meanDepth_V: number;
  /** The same over the last second of the on times. */
  readonly endDepth_V: number;
  readonly switchings: readonly { readonly on_s: number; readonly off_s: number }[];
}

export interface SampleTruth {
  readonly recording: string;
  readonly simulated: true;
  readonly seed: number;
  readonly battery: string;
  readonly sourceResistance_mOhm: { readonly at_1_s: number; readonly at_10_s: number };
  readonly internalResistance_mOhm: { readonly at_1_s: number; readonly at_10_s: number };
  readonly loads: readonly LoadTruth[];
}

/** The files of one sample by name, and the truth behind it. */
export function makeSample(plan: SamplePlan): {
  readonly files: ReadonlyMap<string, string>;
  readonly truth: SampleTruth;
} {
  const random = randomSource(plan.seed);
  const { switchings, endS } = rampCheck({
    loads: plan.loads,
    repeatCount: plan.repeatCount,
    firstOnS: 20,
    onS: 5,
    offS: 5,
    handS: 0.25,
    random,
  });
  const run = (only: readonly SimulatedSwitching[]) =>
    simulateBus({
      battery: agingBattery,
      baseLoad,
      loads: essentialBus,
      switchings: only,
      durationS: endS + 15,
      stepS: STEP_S,
    });
  const signal = run(switchings);
  const volts = readThroughMeter(signal.voltagesV, STEP_S, plan.meter, random);
  const amperes = plan.withCurrent ? readThroughMeter(signal.currentsA, STEP_S, clampMeter, random).values : null;

  const files = new Map<string, string>();
  files.set(`${plan.name}.csv`, recordingText(plan, volts.timesS, volts.values, amperes));
  if (plan.withMarks) files.set(`${plan.name}.marks.csv`, writeMarks(noteDown(switchings, 0.1, random)));

  const loads = plan.loads.map((load) => {
    const mine = switchings.filter((one) => one.load === load);
    const others = switchings.filter((one) => one.load !== load);
    return loadTruth(load, mine, signal, run(others));
  });
  return {
    files,
    truth: {
      recording: `${plan.name}.csv`,
      simulated: true,
      seed: plan.seed,
      battery: "B-0417",
      sourceResistance_mOhm: {
        at_1_s: milliohm(agingBattery.pathOhm + internalOhm(1)),
        at_10_s: milliohm(agingBattery.pathOhm + internalOhm(10)),
      },
      internalResistance_mOhm: { at_1_s: milliohm(internalOhm(1)), at_10_s: milliohm(internalOhm(10)) },
      loads,
    },
  };
}

function internalOhm(afterS: number): number {
  const { ohmicOhm, polarizationOhm, polarizationTimeS } = agingBattery;
  return ohmicOhm + polarizationOhm * (1 - Math.exp(-afterS / polarizationTimeS));
}

function loadTruth(
  load: string,
  switchings: readonly SimulatedSwitching[],
  signal: TrueSignal,
  without: TrueSignal,
): LoadTruth {
  const currentsA = signal.loadCurrentsA.get(load)!;
  const whole = switchings.map((one) => [one.onS, one.offS] as const);
  const lastSecond = switchings.map((one) => [one.offS - 1, one.offS] as const);
  const draw = essentialBus.find((one) => one.id === load)!.draw;
  const steadyA = (index: number) => currentOf(draw, signal.voltagesV[index]!, 1);
  const stepA = (index: number) => signal.currentsA[index]! - without.currentsA[index]!;
  const depthV = (index: number) => without.voltagesV[index]! - signal.voltagesV[index]!;
  const coldA = currentsA.reduce((highest, value) => Math.max(highest, value), 0);
  return {
    load,
    draws: coldA > 0,
    settledCurrent_A: rounded(
      meanOver(lastSecond, (index) => currentsA[index]!),
      3,
    ),
    steadyCurrent_A: rounded(meanOver(lastSecond, steadyA), 3),
    coldCurrent_A: rounded(coldA, 3),
    batteryStep_A: rounded(meanOver(lastSecond, stepA), 3),
    meanDepth_V: rounded(meanOver(whole, depthV), 5),
    endDepth_V: rounded(meanOver(lastSecond, depthV), 5),
    switchings: switchings.map((one) => ({ on_s: rounded(one.onS, 3), off_s: rounded(one.offS, 3) })),
  };
}

function meanOver(spans: readonly (readonly [number, number])[], valueAt: (index: number) => number): number {
  let sum = 0;
  let count = 0;
  for (const [startS, endS] of spans) {
    for (let index = Math.ceil(startS / STEP_S); index * STEP_S < endS; index++) {
      sum += valueAt(index);
      count += 1;
    }
  }
  return sum / count;
}

function recordingText(
  plan: SamplePlan,
  timesS: Float64Array,
  voltagesV: Float64Array,
  currentsA: Float64Array | null,
): string {
  const lines = [
    `# simulated: yes, seed ${plan.seed}; no aircraft was near`,
    `# about: ${plan.about}`,
    "# aircraft: ICE-2",
    "# battery: B-0417",
    currentsA === null ? "time_s,voltage_V" : "time_s,voltage_V,current_A",
  ];
  const decimals = Math.max(0, Math.round(-Math.log10(plan.meter.displayStepV)));
  timesS.forEach((timeS, index) => {
    const cells = [String(rounded(timeS, 3)), voltagesV[index]!.toFixed(decimals)];
    if (currentsA !== null) cells.push((currentsA[index]! + clampMeter.offsetA).toFixed(2));
    lines.push(cells.join(","));
  });
  return `${lines.join("\n")}\n`;
}

function milliohm(ohm: number): number {
  return rounded(ohm * 1000, 3);
}

function rounded(value: number, decimals: number): number {
  return Number(value.toFixed(decimals));
}
