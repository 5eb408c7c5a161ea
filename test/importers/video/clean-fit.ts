import type { NeedleFit } from "../../../src/importers/video/needle-fit.js";

/** A clear needle, sharp and seen by all bands alike, at no turn. */
export const CLEAN_FIT: NeedleFit = {
  step: 0,
  formalU: 0.01,
  turnPerContrast: 2,
  gain: 1,
  blur: 0,
  explained: 0.99,
  residual: 1,
  sampleCount: 400,
  lateral: 0,
  freeLateral: 0,
  bandShifts: new Float64Array(10),
  bandVariances: new Float64Array(10),
  lightSlopes: new Float64Array(10),
};
