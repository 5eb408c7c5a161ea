import { randomSource } from "../../../samples/simulator/random-source.js";
import type { BusProfile, SwitchingMark } from "../../../src/core/index.js";
import { type DipRecordingPlan, dipRecording } from "../../simulation/dip-recording.js";

/** One condition of the ramp: how the meter behaves. */
export interface Condition {
  readonly name: string;
  readonly sigmaV: number;
  readonly ar1: number;
  readonly quantumV: number;
  readonly relaxationV: number;
  readonly outlierShare: number;
  readonly withGap: boolean;
}

const calm = { ar1: 0, quantumV: 0, relaxationV: 0.6, outlierShare: 0, withGap: false };

export const conditions: readonly Condition[] = [
  { ...calm, name: "10 mV white", sigmaV: 0.01 },
  { ...calm, name: "50 mV white", sigmaV: 0.05 },
  { ...calm, name: "20 mV AR(1) 0.8", sigmaV: 0.02, ar1: 0.8 },
  { ...calm, name: "50 mV AR(1) 0.8", sigmaV: 0.05, ar1: 0.8 },
  { ...calm, name: "50 mV white on a 0.1 V display", sigmaV: 0.05, quantumV: 0.1 },
  { ...calm, name: "30 mV white on a 0.1 V display", sigmaV: 0.03, quantumV: 0.1 },
  {
    ...calm,
    name: "30 mV AR(1) 0.8, outliers and a gap",
    sigmaV: 0.03,
    ar1: 0.8,
    outlierShare: 0.005,
    withGap: true,
  },
];

/** Source resistance known to 5 %; the lowest acceptable current makes a dip of some 70 mV. */
export const heldOutProfile: BusProfile = {
  battery: { resistanceOhm: { value: 0.0095, u: 0.0004 } },
  pathResistanceOhm: { value: 0.003, u: 0.0003 },
  loads: [{ id: "probe", kind: "resistive", acceptA: [6, 14], reference: false }],
};

export const DEPTH_V = 0.12;

/**
 * A 75 s recording, 20 readings a second, with three switchings of about 5 s; marks are right within about 0.1 s.
 *
 * With a gap, it lies in the quiet before the second switching.
 */
export function heldOut(condition: Condition, depthV: number, seed: number) {
  const random = randomSource(seed ^ 0x5eed);
  const jitter = () => 0.4 * (random.uniform() - 0.5);
  const switchings = [20, 33, 46].map((onS) => [onS + jitter(), onS + 5 + jitter()] as const);
  const plan: DipRecordingPlan = {
    seed,
    rateHz: 20,
    durationS: 75,
    levelV: 24.1,
    relaxationV: condition.relaxationV,
    relaxationTimeS: 60,
    sigmaV: condition.sigmaV,
    ar1: condition.ar1,
    quantumV: condition.quantumV,
    outlierShare: condition.outlierShare,
    outlierV: 0.5,
    gaps: condition.withGap ? [[28, 31]] : [],
    loads: [{ id: "probe", depthV, switchings }],
    lagS: 0.1,
  };
  const { recording, marks } = dipRecording(plan);
  const noted: SwitchingMark[] = marks.map((mark) => ({ ...mark, timeS: mark.timeS + 0.1 * random.normal() }));
  return { recording, marks: noted };
}
