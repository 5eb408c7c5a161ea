import { chiSquareSurvival } from "../statistics/distribution.js";
import { exponential } from "../statistics/portable-exponential.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import type { MarkedDetection } from "./marked-detection.js";
import type { MarkedResponse } from "./marked-response.js";
import type { JointDepths } from "./readings-design.js";
import { dipTemplate, type OnTime } from "./switching-template.js";

/** One switching of a load, its depth fitted on its own. */
export interface SingleDip {
  readonly load: string;
  readonly onTime: OnTime;
  readonly depthV: number;
  readonly uDepthV: number;
  /** Fitted level without the dip in the middle of it. */
  readonly referenceV: number;
}

/** All switchings of a window fitted together, each with its own depth. */
export interface SingleDips {
  readonly dips: readonly SingleDip[];
  readonly joint: JointDepths | null;
}

/** Fits every switching's own depth by generalised least squares, in the shape of its load. */
export function singleDips(detection: MarkedDetection): SingleDips {
  const { design, fit, responses } = detection;
  const { series } = design;
  const items = responses.flatMap((response) =>
    timesOf(response).map((onTime) => ({
      response,
      onTime,
      template: dipTemplate(series.timesS, series.blockS, [onTime], { ...response.shape, shiftS: shiftOf(response) }),
    })),
  );
  const seen = items.filter(({ template }) => template.some((v) => v !== 0));
  const joint = design.jointDepths(
    seen.map(({ template }) => template),
    fit.noise,
  );
  if (joint === null) return { dips: [], joint };
  const size = seen.length;
  const dips = seen.map(({ response, onTime }, k) => {
    const noiseV = Math.sqrt(joint.covarianceV2[k * size + k]) * exponential(squared(response.scaleSd) / 2);
    return {
      load: response.id,
      onTime,
      depthV: joint.depthsV[k],
      uDepthV: rootSumSquares(noiseV, joint.depthsV[k] * shapeShare(response)),
      referenceV: levelAt(series.timesS, joint.driftV, (onTime.onsetS + onTime.releaseS) / 2),
    };
  });
  return { dips, joint };
}

/** Switching times as fitted, or as marked with the likeliest common shift. */
export function timesOf(response: MarkedResponse): readonly OnTime[] {
  return response.refined?.onTimes ?? response.onTimes;
}

/** Common shift of those times, seconds; 0 where each was fitted. */
export function shiftOf(response: MarkedResponse): number {
  return response.refined === null ? response.shape.shiftS : 0;
}

/** Relative uncertainty of the depth that comes from the shape and is common to all switchings of the load. */
function shapeShare(response: MarkedResponse): number {
  const { refined } = response;
  if (refined === null || !(refined.depthV > 0)) return 0;
  return Math.sqrt(Math.max(squared(refined.uDepthV) - squared(refined.uNoiseV), 0)) / refined.depthV;
}

function levelAt(timesS: Float64Array, levelV: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (timesS[middle] <= timeS) low = middle;
    else high = middle;
  }
  return timeS - timesS[low] <= timesS[high] - timeS ? levelV[low] : levelV[high];
}

/**
 * Whether one switching made most of a response that the others do not show: something else moved the needle then.
 *
 * True when the depths differ beyond their uncertainties (chi-square, 0.1 %) and at least one of them is consistent with
 * nothing while being less than a third of the mean. Depths that merely differ (a cold first heating) are no reason, but
 * two or three vouch for each other only while the deepest is no more than twice the shallowest: a level that shifts by
 * chance at each of so few switchings (a probe that is knocked) makes a row of dips in one case of some thirty.
 */
export function switchingsDisagree(dips: readonly SingleDip[]): boolean {
  if (!differ(dips)) return false;
  const { mean } = agreement(dips);
  if (dips.some((dip) => dip.depthV < mean / 3 && dip.depthV < 2 * dip.uDepthV)) return true;
  return dips.length <= FEW && twiceAnother(dips);
}

/** Whether two or three switchings differ at all, of which one did not end as marked: fewer edges vouch for them. */
export function fewDiffer(dips: readonly SingleDip[]): boolean {
  return dips.length <= FEW && differ(dips);
}

/** Whether depths differ beyond their uncertainties (chi-square, 0.1 %). */
function differ(dips: readonly SingleDip[]): boolean {
  return dips.length >= 2 && chiSquareSurvival(agreement(dips).chiSquare, dips.length - 1) <= 1e-3;
}

/** Switchings that are too few to make up for each other. */
const FEW = 3;

/** Whether the deepest is more than twice the shallowest, by more than one standard uncertainty. */
function twiceAnother(dips: readonly SingleDip[]): boolean {
  const sorted = [...dips].sort((a, b) => a.depthV - b.depthV);
  const [least, most] = [sorted[0], sorted[sorted.length - 1]];
  return most.depthV - 2 * least.depthV > rootSumSquares(most.uDepthV, 2 * least.uDepthV);
}

/**
 * Whether the voltage moves at the onsets of a load and not at its releases, or the other way: then something was switched
 * once, and no load went on and off.
 *
 * A step at every release is fitted beside the dips: the dips then tell the fall at the onsets, and dips and steps
 * together the rise at the releases.
 */
export function oneEdgeOnly(detection: MarkedDetection, response: MarkedResponse): boolean {
  const { design, fit, responses } = detection;
  const { timesS, blockS } = design.series;
  const endS = timesS[timesS.length - 1] + 1;
  const after = timesOf(response)
    .filter(({ releaseS }) => releaseS < endS - 2)
    .map(({ releaseS }) => ({ onsetS: releaseS, releaseS: endS }));
  if (after.length === 0) return false;
  const plain = { ...response.shape, shiftS: shiftOf(response), inrush: 0, polarization: 0 };
  const steps = dipTemplate(timesS, blockS, after, plain);
  const others = responses.filter((one) => one !== response).map((one) => one.template);
  const joint = design.jointDepths([response.template, steps, ...others], fit.noise);
  if (joint === null) return false;
  const size = 2 + others.length;
  const [onsetV, stepV] = joint.depthsV;
  const at = (a: number, b: number) => joint.covarianceV2[a * size + b];
  const releaseV = onsetV - stepV;
  const uOnsetV = Math.sqrt(at(0, 0));
  const uReleaseV = Math.sqrt(Math.max(at(0, 0) + at(1, 1) - 2 * at(0, 1), 0));
  const differs = Math.abs(stepV) > 3.3 * Math.sqrt(at(1, 1));
  const [least, uLeast, most] = onsetV < releaseV ? [onsetV, uOnsetV, releaseV] : [releaseV, uReleaseV, onsetV];
  return differs && least < most / 3 && least < 2 * uLeast;
}

/**
 * Whether the voltage is down in one half of the on-times and not in the other: then something shorter than the load's
 * time on made the dip.
 */
export function oneHalfOnly(detection: MarkedDetection, response: MarkedResponse): boolean {
  const { design, fit, responses } = detection;
  const { timesS, blockS } = design.series;
  const plain = { ...response.shape, shiftS: shiftOf(response), inrush: 0, polarization: 0 };
  const halves = [0, 0.5].map((from) =>
    timesOf(response).map(({ onsetS, releaseS }) => ({
      onsetS: onsetS + from * (releaseS - onsetS),
      releaseS: onsetS + (from + 0.5) * (releaseS - onsetS),
    })),
  );
  const others = responses.filter((one) => one !== response).map((one) => one.template);
  const templates = halves.map((onTimes) => dipTemplate(timesS, blockS, onTimes, plain));
  const joint = design.jointDepths([...templates, ...others], fit.noise);
  if (joint === null) return false;
  const size = 2 + others.length;
  const at = (a: number, b: number) => joint.covarianceV2[a * size + b];
  const [firstV, secondV] = joint.depthsV;
  const uDifferenceV = Math.sqrt(Math.max(at(0, 0) + at(1, 1) - 2 * at(0, 1), 0));
  const least = firstV < secondV ? 0 : 1;
  return (
    Math.abs(firstV - secondV) > 3.3 * uDifferenceV &&
    joint.depthsV[least] < joint.depthsV[1 - least] / 3 &&
    joint.depthsV[least] < 2 * Math.sqrt(at(least, least))
  );
}

/** How many times more the depths scatter than their uncertainties say; 0 for fewer than two. */
export function scatterRatio(dips: readonly SingleDip[]): number {
  return dips.length < 2 ? 0 : Math.sqrt(agreement(dips).chiSquare / (dips.length - 1));
}

/** Weighted mean of the depths in volts, and the chi-square of their differences from it. */
export function agreement(dips: readonly SingleDip[]): { readonly mean: number; readonly chiSquare: number } {
  let weight = 0;
  let sum = 0;
  for (const dip of dips) {
    weight += 1 / squared(dip.uDepthV);
    sum += dip.depthV / squared(dip.uDepthV);
  }
  const mean = sum / weight;
  return { mean, chiSquare: dips.reduce((total, dip) => total + squared((dip.depthV - mean) / dip.uDepthV), 0) };
}
