import type { Analysis, BusProfile, Recording, SwitchingMark } from "../../src/core/index.js";
import * as core from "../../src/core/index.js";
import type { Knowledge } from "./everyday.js";
import { LOAD_ID, type SimulatedRecording } from "./simulate.js";

/** What the detector says of one recording, in the bench's words. */
export interface Answer {
  readonly verdict: "responded" | "no response" | "undecided";
  readonly pValue: number;
  /** NaN where no depth is given. */
  readonly depthV: number;
  readonly low: number;
  readonly high: number;
  readonly u: number;
  readonly criticalV: number;
  readonly mdvV: number;
  readonly onsetsS: readonly number[];
  /** What the detector threw instead of an answer; null when it answered. */
  readonly failure: string | null;
}

export interface JudgeOptions {
  readonly falseAlarmRate: number;
  readonly power: number;
  readonly knowledge: Knowledge;
  /** Dip that the load's lowest acceptable current would make; without it no `no response` can be said. */
  readonly expectedDepthV?: number;
}

/** The detector under test, or a plain stand-in while there is none. */
export function judge(recording: SimulatedRecording, options: JudgeOptions): Answer {
  try {
    return isStandIn() ? standIn(recording, options) : answerOf(analyzeWith(recording, options));
  } catch (error) {
    return { ...NO_ANSWER, failure: error instanceof Error ? error.message : String(error) };
  }
}

const NO_ANSWER: Answer = {
  verdict: "undecided",
  pValue: 1,
  depthV: Number.NaN,
  low: Number.NaN,
  high: Number.NaN,
  u: Number.NaN,
  criticalV: Number.NaN,
  mdvV: Number.NaN,
  onsetsS: [],
  failure: null,
};

export function isStandIn(): boolean {
  return analyzeFunction() === undefined;
}

type Analyze = (
  recording: Recording,
  options: {
    readonly marks: readonly SwitchingMark[];
    readonly profile: BusProfile;
    readonly falseAlarmRate: number;
    readonly power: number;
    readonly cadence?: { readonly switchingCount: number; readonly onS: number; readonly offS: number };
  },
) => Analysis;

function analyzeFunction(): Analyze | undefined {
  return (core as { readonly analyze?: Analyze }).analyze;
}

const SOURCE_OHM = 0.03;

export function analyzeWith(recording: SimulatedRecording, options: JudgeOptions): Analysis {
  const { timesS, voltagesV, marks, cadence } = recording;
  const { falseAlarmRate, power, knowledge, expectedDepthV } = options;
  // The source resistance is known so well that its low end takes nothing off the expected dip.
  const acceptA = expectedDepthV === undefined ? {} : { acceptA: [expectedDepthV / SOURCE_OHM, 1000] as const };
  const profile: BusProfile = {
    battery: { resistanceOhm: { value: SOURCE_OHM, u: 1e-6 } },
    loads: [{ id: LOAD_ID, kind: "heater", reference: false, ...acceptA }],
  };
  const analyze = analyzeFunction();
  if (analyze === undefined) throw new TypeError("Cannot analyze: src/core/index.ts exports no analyze");
  return analyze(
    { timesS, voltagesV },
    {
      marks: knowledge === "marked" ? marks : [],
      profile,
      falseAlarmRate,
      power,
      ...(knowledge === "cadence" ? { cadence } : {}),
    },
  );
}

function answerOf(analysis: Analysis): Answer {
  const load = analysis.loads.find(({ verdict }) => verdict === "responded") ?? analysis.loads[0];
  const { detection, dips } = analysis;
  return {
    verdict: load?.verdict ?? (dips.length > 0 ? "responded" : "undecided"),
    pValue: load?.pValue ?? 1,
    depthV: load?.depth?.value ?? Number.NaN,
    low: load?.depth?.low ?? Number.NaN,
    high: load?.depth?.high ?? Number.NaN,
    u: load?.depth?.u ?? Number.NaN,
    criticalV: load?.criticalDepthV ?? detection.criticalDepthV ?? Number.NaN,
    mdvV: load?.minimumDetectableDepthV ?? detection.minimumDetectableDepthV ?? Number.NaN,
    onsetsS: dips.map(({ onsetS }) => onsetS),
    failure: null,
  };
}

/**
 * Means of the three seconds before each mark and of the on-time, their differences judged as independent normals with
 * the scatter of the readings: only good enough to exercise the bench.
 */
function standIn(recording: SimulatedRecording, { expectedDepthV }: JudgeOptions): Answer {
  const { timesS, voltagesV, marks, cadence } = recording;
  const times =
    marks.length > 0
      ? marks.filter(({ action }) => action === "on").map(({ timeS }) => timeS)
      : recording.onTimes.map(({ onS }) => onS);
  const mean = (fromS: number, toS: number) => {
    const inside = Array.from(voltagesV).filter((_, i) => timesS[i] >= fromS && timesS[i] < toS);
    return { mean: inside.reduce((a, b) => a + b, 0) / Math.max(1, inside.length), count: inside.length };
  };
  const parts = times.map((onS) => ({ off: mean(onS - 3, onS), on: mean(onS + 1, onS + cadence.onS - 0.5) }));
  const depthV = parts.reduce((sum, { off, on }) => sum + off.mean - on.mean, 0) / parts.length;
  const steps = voltagesV.subarray(1).map((v, i) => v - voltagesV[i]);
  const sigmaV = Math.sqrt(steps.reduce((sum, v) => sum + v * v, 0) / steps.length / 2);
  const variance = parts.reduce((sum, { off, on }) => sum + 1 / Math.max(1, off.count) + 1 / Math.max(1, on.count), 0);
  const u = (2 * sigmaV * Math.sqrt(variance)) / parts.length;
  const criticalV = 2.33 * u;
  const mdvV = criticalV + 1.645 * u;
  const misses = expectedDepthV !== undefined && mdvV <= expectedDepthV && depthV + 2 * u < expectedDepthV;
  return {
    verdict: depthV > criticalV ? "responded" : misses ? "no response" : "undecided",
    pValue: Math.exp(-0.5 * Math.max(0, depthV / u) ** 2) / 2,
    depthV,
    low: depthV - 1.96 * u,
    high: depthV + 1.96 * u,
    u,
    criticalV,
    mdvV,
    onsetsS: times,
    failure: null,
  };
}
