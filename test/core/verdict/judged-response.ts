import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import type { RefinedDepth } from "../../../src/core/detection/shape-refinement.js";
import type { SingleDip } from "../../../src/core/detection/single-dips.js";
import type { DipShape } from "../../../src/core/detection/switching-template.js";
import type { SourceAnswer, SourceResistance } from "../../../src/core/estimation/source-from-recording.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";
import type { JudgedResponse } from "../../../src/core/verdict/judged-response.js";

export const SHAPE: DipShape = {
  shiftS: 0,
  lagS: 0.3,
  inrush: 0,
  settleS: 3,
  polarization: 0,
  polarizationS: 20,
};

/** A response of 0.1 V +/- 5 mV from two switchings, known as a plain normal distribution. */
export const RESPONSE: MarkedResponse = {
  id: "probe",
  onTimes: [
    { onsetS: 10, releaseS: 15 },
    { onsetS: 20, releaseS: 26 },
  ],
  shape: SHAPE,
  template: new Float64Array(0),
  score: 20,
  distribution: {
    pValue: (score) => 10 ** -score,
    criticalScore: (rate) => -Math.log10(rate),
    detectableSize: (critical, power) => critical + 10 * (power - 0.5),
  } as MarkedResponse["distribution"],
  depth: { means: Float64Array.of(0.1), sds: Float64Array.of(0.005), weights: Float64Array.of(1) },
  voltsPerScore: 0.004,
  expectedVoltsPerScore: 0.002,
  scaleSd: 0,
  leftovers: [],
  roundingCounted: false,
  refined: null,
};

export const REFINED: RefinedDepth = {
  depthV: 0.1,
  uDepthV: 0.005,
  shape: { ...SHAPE, inrush: 0.5 },
  uInrush: 0.1,
  depthInrushCovarianceV: 0,
  onTimes: RESPONSE.onTimes,
  uTimesS: new Float64Array(4),
  template: new Float64Array(0),
  uNoiseV: 0.003,
};

export const dipOf = (changed: Partial<SingleDip> = {}): SingleDip => ({
  load: "probe",
  onTime: { onsetS: 10, releaseS: 15 },
  depthV: 0.1,
  uDepthV: 0.01,
  referenceV: 24,
  ...changed,
});

export const judgedOf = (changed: Partial<JudgedResponse> = {}): JudgedResponse => {
  const judged = {
    response: RESPONSE,
    profile: null,
    dips: [dipOf(), dipOf({ onTime: { onsetS: 20, releaseS: 26 } })],
    pValue: 1e-6,
    criticalDepthV: 0.01,
    minimumDetectableDepthV: 0.02,
    surelyDetectableDepthV: null,
    displayBias: { uV: 0, mostV: 0 },
    indistinct: false,
    edgesDisagree: false,
    besideOwnMarks: false,
    maybeOneStep: false,
    maybeWander: false,
    unfit: false,
    rhythmGoesOn: false,
    strayed: false,
    marksOffS: null,
    depth: normalQuantity(0.1, 0.005, "V", "generalized-least-squares"),
    commonV: 0,
    measuredA: null,
    ...changed,
  };
  // As where the gain of the readings is known.
  const { pValue, minimumDetectableDepthV } = judged;
  return { acceptedFromV: judged.criticalDepthV, undoubted: { pValue, minimumDetectableDepthV }, ...judged };
};

export const SOURCE: SourceResistance = {
  known: true,
  resistanceOhm: 0.02,
  uOhm: 0.0004,
  route: "known-resistance",
  load: null,
  current: null,
  currents: [],
  rows: [],
  growth: { value: 0, u: 0 },
  draw: () => 0.02,
  tolerances: [],
};

export const NO_SOURCE: SourceAnswer = { known: false, reason: "path-unknown" };
