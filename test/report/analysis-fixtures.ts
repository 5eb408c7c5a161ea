import type { Analysis, AnalysisCurves, BusProfile, Dip, LoadAnswer, Quantity, Unit } from "../../src/core/index.js";
import type { ReportContext } from "../../src/report/report-context.js";

/** Hand-written answers for report tests; the numbers are invented, plausible for ICE-2, and no output of the core. */

const RATE_HZ = 20;
const DURATION_S = 140;
const ON_S = 5;
const SWITCHING_STARTS_S: Record<string, readonly number[]> = {
  "landing-light": [12, 22, 32],
  "probe-heat-a": [46, 56, 66],
  "probe-heat-b": [80, 90, 100],
  "stall-vane": [112, 122, 132],
};
const DEPTHS_V: Record<string, number> = {
  "landing-light": 0.1884,
  "probe-heat-a": 0.1183,
  "probe-heat-b": 0.0021,
  "stall-vane": 0.0312,
};

export function quantity<U extends Unit>(
  value: number,
  unit: U,
  u: number,
  route: Quantity<U>["route"],
  bounds?: readonly [number, number],
): Quantity<U> {
  const [low, high] = bounds ?? [value - 1.97 * u, value + 1.97 * u];
  return { value, u, unit, low, high, coverage: 0.95, route };
}

const load = (given: Partial<LoadAnswer> & Pick<LoadAnswer, "id" | "name" | "verdict" | "because">): LoadAnswer => ({
  pValue: 0.4,
  switchingCount: 3,
  depth: null,
  coldDepth: null,
  expectedDepthV: null,
  criticalDepthV: 0.0232,
  minimumDetectableDepthV: 0.0391,
  moreSwitchings: null,
  current: null,
  coldCurrent: null,
  reference: false,
  ...given,
});

const loads: readonly LoadAnswer[] = [
  load({
    id: "probe-heat-a",
    name: "Probe heat A",
    verdict: "responded",
    because: "above-critical",
    pValue: 3.1e-9,
    depth: quantity(0.1183, "V", 0.0071, "generalized-least-squares"),
    coldDepth: quantity(0.1492, "V", 0.0133, "generalized-least-squares"),
    expectedDepthV: 0.0811,
    current: quantity(5.61, "A", 0.41, "reference-load", [4.84, 6.49]),
    coldCurrent: quantity(7.05, "A", 0.72, "reference-load"),
  }),
  load({
    id: "probe-heat-b",
    name: "Probe heat B",
    verdict: "no response",
    because: "excludes-acceptable",
    pValue: 0.74,
    depth: quantity(0.0021, "V", 0.0072, "generalized-least-squares"),
    expectedDepthV: 0.0811,
  }),
  load({
    id: "stall-vane",
    name: "Stall-vane heat",
    verdict: "undecided",
    because: "too-noisy",
    pValue: 0.081,
    depth: quantity(0.0312, "V", 0.0117, "generalized-least-squares"),
    expectedDepthV: 0.0406,
    criticalDepthV: 0.0362,
    minimumDetectableDepthV: 0.0617,
    moreSwitchings: 4,
  }),
  load({
    id: "landing-light",
    name: "Landing light",
    verdict: "responded",
    because: "above-critical",
    pValue: 2.2e-16,
    depth: quantity(0.1884, "V", 0.0069, "generalized-least-squares"),
    current: quantity(8.93, "A", 0.26, "reference-load"),
    reference: true,
  }),
];

/** A fixed pseudo-random sequence, roughly normal with standard deviation 1. */
function noise(seed: number): () => number {
  let state = seed;
  const uniform = () => {
    state = (state * 1664525 + 1013904223) % 4294967296;
    return state / 4294967296;
  };
  return () => {
    let sum = 0;
    for (let i = 0; i < 12; i++) sum += uniform();
    return sum - 6;
  };
}

/** Curves of a recording with the switchings above, at any rate; `gap` leaves 4 s of readings out. */
export function curvesAt(rateHz: number, durationS: number, gap?: { startS: number; endS: number }): AnalysisCurves {
  const allTimesS = Float64Array.from({ length: Math.round(rateHz * durationS) }, (_, i) => i / rateHz);
  const timesS = gap === undefined ? allTimesS : allTimesS.filter((t) => t < gap.startS || t >= gap.endS);
  const next = noise(7);
  const driftV = timesS.map((t) => 24.92 + 0.35 * Math.exp(-t / 300) - 0.0002 * t);
  const modelV = timesS.map((t, i) => driftV[i]! - dipAt(t));
  const readingsV = modelV.map((v) => v + 0.028 * next());
  const coherent = Object.keys(SWITCHING_STARTS_S).map((id) => {
    const axisS = Float64Array.from({ length: 90 }, (_, i) => -2 + i / 10);
    const inside = (t: number) => (t >= 0 && t < ON_S ? -DEPTHS_V[id]! : 0);
    return {
      load: id,
      dipCount: 3,
      onTimes: SWITCHING_STARTS_S[id]!.map((onsetS) => ({ onsetS, releaseS: onsetS + ON_S })),
      timesS: axisS,
      meanV: axisS.map((t) => inside(t) + 0.009 * next()),
      uMeanV: axisS.map(() => 0.0105),
      modelV: axisS.map(inside),
    };
  });
  return { timesS, readingsV, modelV, driftV, coherent };
}

function dipAt(timeS: number): number {
  for (const [id, starts] of Object.entries(SWITCHING_STARTS_S)) {
    if (starts.some((start) => timeS >= start && timeS < start + ON_S)) return DEPTHS_V[id]!;
  }
  return 0;
}

const dips: readonly Dip[] = Object.entries(SWITCHING_STARTS_S)
  .filter(([id]) => id !== "probe-heat-b")
  .flatMap(([id, starts]) =>
    starts.map((startS, index): Dip => {
      const depthV = DEPTHS_V[id]! + [0.004, -0.006, 0.002][index]!;
      const resistances =
        id === "landing-light"
          ? [
              { atS: 1, resistance: quantity(depthV / 8.93, "Ohm", 0.0015, "reference-load") },
              { atS: 5, resistance: quantity(depthV / 8.84, "Ohm", 0.0017, "reference-load") },
            ]
          : [];
      return {
        onsetS: startS + 0.01,
        releaseS: startS + ON_S,
        durationS: ON_S - 0.01,
        depth: quantity(depthV, "V", 0.0121, "generalized-least-squares"),
        residualV: 25.0 - depthV,
        load: id,
        current: id === "probe-heat-a" ? quantity(depthV / 0.0211, "A", 0.72, "reference-load") : null,
        resistance: resistances[0] ?? null,
        resistances,
      };
    }),
  )
  .sort((a, b) => a.onsetS - b.onsetS);

const gap = { startS: 74, endS: 78 };

/** ICE-2 on the ramp: two loads answer, one is silent, one is undecided; every field filled. */
export const ice2Analysis: Analysis = {
  recording: {
    sampleCount: RATE_HZ * DURATION_S - 80,
    durationS: DURATION_S,
    sampleRateHz: RATE_HZ,
    gaps: [gap],
    lowestV: 24.71,
    highestV: 25.34,
  },
  noise: {
    sigmaV: 0.0283,
    ar1: 0.34,
    quantumV: 0.01,
    whiteV: 0.024,
    colouredV: 0.015,
    colouredTimeS: 0.4,
    walkVPerSqrtS: 0.002,
  },
  detection: {
    mode: "marked",
    falseAlarmRate: 0.01,
    power: 0.95,
    criticalDepthV: 0.0232,
    minimumDetectableDepthV: 0.0391,
    limitsOf: null,
  },
  dips,
  loads,
  battery: {
    openCircuit: quantity(25.274, "V", 0.011, "readings"),
    source: { atS: 1, resistance: quantity(0.0211, "Ohm", 0.00098, "reference-load", [0.0193, 0.0232]) },
    internal: { atS: 1, resistance: quantity(0.0181, "Ohm", 0.0011, "reference-load") },
    normalized: null,
    model: null,
    endurance: quantity(41.3, "min", 6.2, "capacity-and-current", [30.9, 54.8]),
    requiredEnduranceMin: 30,
  },
  budgets: [
    {
      quantity: "source-resistance",
      load: null,
      unit: "Ohm",
      value: 0.0211,
      u: 0.00098,
      method: "fieller",
      rows: [
        { source: "reference-depth", value: 0.1884, unit: "V", u: 0.0069, sensitivity: 0.112, share: 0.62 },
        { source: "reference-rating", value: 8.93, unit: "A", u: 0.258, sensitivity: -0.00236, share: 0.38 },
      ],
    },
    {
      quantity: "current",
      load: "probe-heat-a",
      unit: "A",
      value: 5.61,
      u: 0.41,
      method: "monte-carlo",
      rows: [
        { source: "depth", value: 0.1183, unit: "V", u: 0.0071, sensitivity: 47.4, share: 0.67 },
        { source: "known-resistance", value: 0.0211, unit: "Ohm", u: 0.00087, sensitivity: -265.9, share: 0.32 },
        { source: "bus-voltage", value: 24.9, unit: "V", u: 0.011, sensitivity: 0.21, share: 0.01 },
      ],
    },
  ],
  curves: curvesAt(RATE_HZ, DURATION_S, gap),
  assumptions: [
    { code: "switching-from-marks", markCount: 24, jitterS: 0.2 },
    { code: "lag-from-profile", lagS: 0.25 },
    { code: "display-step", quantumV: 0.01 },
    { code: "settling-seen", load: "probe-heat-a", timeConstantS: 1.8 },
    { code: "reference-tolerance", load: "landing-light", fraction: 0.05 },
    { code: "path-resistance-from-profile", valueOhm: 0.003, uOhm: 0.0005 },
    { code: "resistance-at", atS: 1 },
    { code: "endurance-model", derateLow: 0.6, derateHigh: 0.8 },
    { code: "not-identifiable", what: "current", load: "probe-heat-b", why: "load-did-not-respond" },
    { code: "not-identifiable", what: "current", load: "stall-vane", why: "load-did-not-respond" },
    { code: "not-identifiable", what: "normalized", load: null, why: "no-temperature" },
  ],
  cautions: ["advisory", "hot-probe", "battery-falls", "current-not-heat"],
  warnings: [
    { code: "gap", startS: 74, endS: 78 },
    { code: "noise-not-stationary", ratio: 2.3 },
  ],
};

/** A bare log: no profile, no marks, no current; dips found, nothing else known. */
export const depthOnlyAnalysis: Analysis = {
  ...ice2Analysis,
  detection: { ...ice2Analysis.detection, mode: "searched", limitsOf: { switchingCount: 3, onS: 5, offS: 5 } },
  recording: { ...ice2Analysis.recording, gaps: [] },
  noise: { ...ice2Analysis.noise, quantumV: null },
  dips: dips.slice(0, 3).map((dip) => ({ ...dip, load: null, current: null, resistance: null, resistances: [] })),
  loads: [],
  battery: {
    openCircuit: null,
    source: null,
    internal: null,
    normalized: null,
    model: null,
    endurance: null,
    requiredEnduranceMin: null,
  },
  budgets: [],
  curves: { ...curvesAt(RATE_HZ, DURATION_S), coherent: [] },
  assumptions: [
    { code: "switching-searched" },
    { code: "load-not-told", dipCount: 3 },
    { code: "not-identifiable", what: "resistance", load: null, why: "no-current-reference" },
    { code: "not-identifiable", what: "internal-resistance", load: null, why: "no-current-reference" },
    { code: "not-identifiable", what: "open-circuit", load: null, why: "no-switching" },
    { code: "not-identifiable", what: "endurance", load: null, why: "no-capacity" },
  ],
  cautions: ["advisory"],
  warnings: [],
};

/** Two readings and nothing in them. */
export const emptyAnalysis: Analysis = {
  ...depthOnlyAnalysis,
  recording: { sampleCount: 2, durationS: 1, sampleRateHz: 1, gaps: [], lowestV: 24.1, highestV: 24.1 },
  noise: { ...ice2Analysis.noise, sigmaV: Number.NaN, quantumV: null },
  detection: {
    ...ice2Analysis.detection,
    criticalDepthV: Number.POSITIVE_INFINITY,
    minimumDetectableDepthV: Number.POSITIVE_INFINITY,
  },
  dips: [],
  loads: [
    load({
      id: "probe-heat-a",
      name: "Probe heat A",
      verdict: "undecided",
      because: "never-switched",
      pValue: 1,
      switchingCount: 0,
      criticalDepthV: null,
      minimumDetectableDepthV: null,
    }),
  ],
  curves: {
    timesS: Float64Array.of(0, 1),
    readingsV: Float64Array.of(24.1, 24.1),
    modelV: Float64Array.of(24.1, 24.1),
    driftV: Float64Array.of(24.1, 24.1),
    coherent: [],
  },
  assumptions: [],
  warnings: [{ code: "few-readings", readingCount: 2 }],
};

export const hostileNames = {
  script: `<script>alert("1")</script><img src=x onerror=alert(2)>`,
  rightToLeft: "\u202eחימום צינור\u202c פיטו",
  emoji: "🔥👩‍🚀 heat 🧊",
  long: "Heated probe number ".repeat(10),
  broken: "line one\nline two\u0000\u001b[31m red\r\n%{x} </script> & 'quoted'",
};

/** The same answer with labels that try to break out of the page, the terminal and the layout. */
export const hostileAnalysis: Analysis = {
  ...ice2Analysis,
  loads: [
    { ...loads[0]!, id: hostileNames.script, name: hostileNames.script },
    { ...loads[1]!, id: "rtl", name: hostileNames.rightToLeft },
    { ...loads[2]!, id: "long", name: hostileNames.long },
    { ...loads[3]!, id: hostileNames.broken, name: hostileNames.broken },
    { ...loads[3]!, id: "emoji", name: hostileNames.emoji },
  ],
  dips: dips.map((dip, index) => ({
    ...dip,
    load: [hostileNames.script, "rtl", "long", hostileNames.broken, "emoji"][index % 5]!,
  })),
  curves: {
    ...ice2Analysis.curves,
    coherent: ice2Analysis.curves.coherent.map((one, index) => ({
      ...one,
      load: [hostileNames.script, "rtl", "long", hostileNames.broken][index]!,
    })),
  },
  budgets: ice2Analysis.budgets.map((budget) => ({ ...budget, load: hostileNames.script })),
  assumptions: [{ code: "reference-tolerance", load: hostileNames.script, fraction: 0.05 }],
  warnings: [{ code: "overlapping-loads", loads: [hostileNames.script, hostileNames.broken] }],
};

export const ice2Profile: BusProfile = {
  aircraft: "ICE-2",
  bus: "essential",
  battery: { id: "B-0417", chemistry: "lead-acid", cells: 12, capacityAh: 44, installed: "2026-03-02" },
  requiredEnduranceMin: 30,
  loads: loads.map(({ id, name, reference }) => ({ id, name, kind: "heater", reference })),
};

export const ice2Context: ReportContext = {
  source: "ice-2-ramp.csv",
  sha256: "9f2b5c0de1a7c4b8f3d6e90a1b2c3d4e5f60718293a4b5c6d7e8f90123456789",
  profile: ice2Profile,
  profileText: "aircraft: ICE-2\nbus: essential\nbattery: { id: B-0417, chemistry: lead-acid }\n",
  understood: ["Columns: time_s (seconds), voltage_V (volts).", "2,720 rows read, none left out."],
  softwareVersion: "0.1.0",
  madeAt: "2026-11-03T14:05:00Z",
};

export const hostileContext: ReportContext = {
  ...ice2Context,
  source: `"><script>alert(3)</script>.csv`,
  profile: { ...ice2Profile, aircraft: hostileNames.script, bus: hostileNames.rightToLeft },
  profileText: `aircraft: "</pre><script>alert(4)</script>"\n`,
  understood: [`Column "<b onclick=alert(5)>" left out.`],
};

export const everyFixture: readonly (readonly [string, Analysis, ReportContext])[] = [
  ["ICE-2", ice2Analysis, ice2Context],
  ["depth only", depthOnlyAnalysis, { ...ice2Context, profile: null }],
  ["empty", emptyAnalysis, ice2Context],
  ["hostile", hostileAnalysis, hostileContext],
];
