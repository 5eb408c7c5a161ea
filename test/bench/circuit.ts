/**
 * A battery, its loads and two meters, stepped through time from the circuit's own equations: nothing here comes from the
 * sums of exponentials by which dips are judged.
 */
import type { SwitchingMark } from "../../src/core/index.js";
import { drawNoise, type NoiseParts } from "./noise.js";
import type { RandomStream } from "./random.js";

/** How a load draws while on. A heater starts cold, with `inrush` more than settled, and warms within `settleS`. */
export type CircuitLoad = {
  readonly id: string;
  readonly switchings: readonly (readonly [onS: number, offS: number])[];
} & (
  | { readonly kind: "resistive"; readonly hotOhm: number }
  | { readonly kind: "heater"; readonly hotOhm: number; readonly inrush: number; readonly settleS: number }
  | { readonly kind: "constant-power"; readonly powerW: number }
  | { readonly kind: "constant-current"; readonly currentA: number }
);

export interface Circuit {
  readonly restV: number;
  /** Recovery after an earlier load, above the rested voltage. */
  readonly relaxationV: number;
  readonly relaxationTimeS: number;
  readonly ohmicOhm: number;
  readonly pairOhm: number;
  readonly pairTimeS: number;
  /** From the battery's terminals to where the voltage is sensed. */
  readonly pathOhm: number;
  /** Drawn all the time. */
  readonly standingA: number;
  readonly loads: readonly CircuitLoad[];
}

export interface Meters {
  readonly durationS: number;
  readonly rateHz: number;
  readonly lagS: number;
  readonly noise: NoiseParts;
  /** Null for no current meter. */
  readonly clamp: {
    readonly rateHz: number;
    readonly gain: number;
    readonly offsetA: number;
    readonly noiseA: number;
  } | null;
}

export interface CircuitRecording {
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  readonly current: { readonly timesS: Float64Array; readonly currentsA: Float64Array } | null;
  readonly marks: readonly SwitchingMark[];
  /** Settled current of each load, mean over the ends of its on-times. */
  readonly settledA: ReadonlyMap<string, number>;
}

const STEP_S = 0.002;

/** What both meters show of the circuit, and what each load truly drew. */
export function circuitRecording(circuit: Circuit, meters: Meters, random: RandomStream): CircuitRecording {
  const stepCount = Math.round(meters.durationS / STEP_S);
  const seenV = new Float64Array(stepCount);
  const totalA = new Float64Array(stepCount);
  const cold = circuit.loads.map(() => 1);
  const ends = circuit.loads.map((): number[] => []);
  let pairV = circuit.pairOhm * circuit.standingA;
  let needleV = Number.NaN;
  let terminalV = circuit.restV;
  for (let step = 0; step < stepCount; step++) {
    const timeS = step * STEP_S;
    const sourceV = circuit.restV + circuit.relaxationV * Math.exp(-timeS / circuit.relaxationTimeS) - pairV;
    const isOn = circuit.loads.map(({ switchings }) => switchings.some(([onS, offS]) => timeS >= onS && timeS < offS));
    // The current hangs on the voltage that it makes: a few rounds settle it.
    let currentA = circuit.standingA;
    for (let round = 0; round < 6; round++) {
      const drawn = circuit.loads.map((load, k) => (isOn[k] ? drawnA(load, terminalV, cold[k]!) : 0));
      currentA = drawn.reduce((sum, one) => sum + one, circuit.standingA);
      terminalV = sourceV - (circuit.ohmicOhm + circuit.pathOhm) * currentA;
    }
    circuit.loads.forEach((load, k) => {
      if (load.kind === "heater") {
        const [towards, timeConstantS] = isOn[k] ? [0, load.settleS] : [1, 6 * load.settleS];
        cold[k]! += ((towards - cold[k]!) * STEP_S) / timeConstantS;
      }
      if (load.switchings.some(([, offS]) => timeS < offS && timeS + STEP_S >= offS)) {
        ends[k]!.push(drawnA(load, terminalV, 0));
      }
    });
    pairV += ((circuit.pairOhm * currentA - pairV) * STEP_S) / circuit.pairTimeS;
    needleV = step === 0 || meters.lagS === 0 ? terminalV : needleV + ((terminalV - needleV) * STEP_S) / meters.lagS;
    seenV[step] = needleV;
    totalA[step] = currentA;
  }
  const timesS = evenTimes(meters.durationS, meters.rateHz);
  const noiseV = drawNoise(meters.noise, timesS, null, random);
  const at = (series: Float64Array, timeS: number) => series[Math.min(stepCount - 1, Math.round(timeS / STEP_S))]!;
  return {
    timesS,
    voltagesV: timesS.map((timeS, i) => at(seenV, timeS) + noiseV[i]!),
    current:
      meters.clamp === null ? null : clamped(meters.clamp, meters.durationS, (timeS) => at(totalA, timeS), random),
    marks: circuit.loads
      .flatMap(({ id, switchings }) =>
        switchings.flatMap(([onS, offS]): SwitchingMark[] => [
          { timeS: onS, load: id, action: "on" },
          { timeS: offS, load: id, action: "off" },
        ]),
      )
      .sort((a, b) => a.timeS - b.timeS),
    settledA: new Map(
      circuit.loads.map(({ id }, k) => [id, ends[k]!.reduce((sum, one) => sum + one, 0) / ends[k]!.length]),
    ),
  };
}

function drawnA(load: CircuitLoad, terminalV: number, cold: number): number {
  switch (load.kind) {
    case "resistive":
      return terminalV / load.hotOhm;
    case "heater":
      return (terminalV / load.hotOhm) * (1 + load.inrush * cold);
    case "constant-power":
      return load.powerW / terminalV;
    case "constant-current":
      return load.currentA;
  }
}

function clamped(
  { rateHz, gain, offsetA, noiseA }: NonNullable<Meters["clamp"]>,
  durationS: number,
  trueA: (timeS: number) => number,
  random: RandomStream,
) {
  const timesS = evenTimes(durationS, rateHz);
  return { timesS, currentsA: timesS.map((timeS) => offsetA + gain * trueA(timeS) + noiseA * random.normal()) };
}

function evenTimes(durationS: number, rateHz: number): Float64Array {
  return Float64Array.from({ length: Math.floor(durationS * rateHz) }, (_, i) => i / rateHz);
}
