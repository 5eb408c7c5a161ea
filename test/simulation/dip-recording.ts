import { randomSource } from "../../samples/simulator/random-source.js";
import type { Recording, SwitchingMark } from "../../src/core/index.js";

/** A recording put together from its parts, each with a stated size; nothing here comes from the detector's model. */
export interface DipRecordingPlan {
  readonly seed: number;
  readonly rateHz: number;
  readonly durationS: number;
  /** Rested level; the relaxation above it dies away with its time constant. */
  readonly levelV: number;
  readonly relaxationV: number;
  readonly relaxationTimeS: number;
  /** Stationary standard deviation of the noise; white where `ar1` is 0, else AR(1) from reading to reading. */
  readonly sigmaV: number;
  readonly ar1: number;
  /** Step of the display; 0 for none. */
  readonly quantumV: number;
  readonly outlierShare: number;
  readonly outlierV: number;
  readonly gaps: readonly (readonly [number, number])[];
  readonly loads: readonly PlannedLoad[];
  /** First-order lag of the meter. */
  readonly lagS: number;
}

/** A load that makes a dip of `depthV` (0: none) at each of its switchings, `[onS, offS]`. */
export interface PlannedLoad {
  readonly id: string;
  readonly depthV: number;
  readonly switchings: readonly (readonly [number, number])[];
}

export interface DipRecording {
  readonly recording: Recording;
  readonly marks: readonly SwitchingMark[];
}

/** The recording of a plan, and true marks of its switchings. */
export function dipRecording(plan: DipRecordingPlan): DipRecording {
  const random = randomSource(plan.seed);
  const timesS: number[] = [];
  const voltagesV: number[] = [];
  let noiseV = plan.sigmaV * random.normal();
  for (let index = 0; index < plan.durationS * plan.rateHz; index++) {
    const timeS = index / plan.rateHz;
    noiseV = plan.ar1 * noiseV + Math.sqrt(1 - plan.ar1 ** 2) * plan.sigmaV * random.normal();
    const outlierV = random.uniform() < plan.outlierShare ? plan.outlierV * random.normal() : 0;
    if (plan.gaps.some(([startS, endS]) => timeS >= startS && timeS < endS)) continue;
    const driftV = plan.relaxationV * Math.exp(-timeS / plan.relaxationTimeS);
    const value = plan.levelV + driftV - dipV(plan, timeS) + noiseV + outlierV;
    timesS.push(timeS);
    voltagesV.push(plan.quantumV > 0 ? Math.round(value / plan.quantumV) * plan.quantumV : value);
  }
  const marks = plan.loads
    .flatMap(({ id, switchings }) =>
      switchings.flatMap(([onS, offS]): SwitchingMark[] => [
        { timeS: onS, load: id, action: "on" },
        { timeS: offS, load: id, action: "off" },
      ]),
    )
    .sort((a, b) => a.timeS - b.timeS);
  return {
    recording: { timesS: Float64Array.from(timesS), voltagesV: Float64Array.from(voltagesV) },
    marks,
  };
}

/** Sum of the step answers of a first-order lag to every switching so far. */
function dipV(plan: DipRecordingPlan, timeS: number): number {
  const rise = (sinceS: number) => {
    if (sinceS < 0) return 0;
    return plan.lagS > 0 ? 1 - Math.exp(-sinceS / plan.lagS) : 1;
  };
  let sumV = 0;
  for (const load of plan.loads) {
    for (const [onS, offS] of load.switchings) sumV += load.depthV * (rise(timeS - onS) - rise(timeS - offS));
  }
  return sumV;
}

/** The recording as the canonical CSV text. */
export function recordingCsv(recording: Recording): string {
  const lines = ["time_s,voltage_V"];
  recording.timesS.forEach((timeS, index) => {
    lines.push(`${Number(timeS.toFixed(6))},${Number(recording.voltagesV[index]!.toFixed(6))}`);
  });
  return `${lines.join("\n")}\n`;
}
