import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { WorkingSeries } from "../series/working-series.js";
import { matchedScores } from "./matched-scores.js";
import { ReadingsDesign } from "./readings-design.js";
import { partOf } from "./search-noise.js";
import { refineDepth } from "./shape-refinement.js";
import { dipTemplate, firstAtOrAfter, type OnTime, plainShape } from "./switching-template.js";

/** Dips that were found before: columns that take them out, and their switching times. */
export interface KnownDips {
  readonly templates: Float64Array[];
  readonly onTimes: OnTime[];
}

/** Lag that a meter is taken to have where the profile does not tell it, seconds. */
export const TYPICAL_LAG_S = 0.35;

/**
 * Fits shape and times of a found train, and takes it out together with what a wrong shape would leave.
 *
 * The train of the search has one rhythm and one number of switchings; members that the readings do not show are dropped
 * and neighbours that they do show are added. Returns the switching times.
 */
export function takeOut(
  design: ReadingsDesign,
  known: KnownDips,
  train: { readonly onTimes: readonly OnTime[] },
  depthV: number,
  noise: NoiseParameters,
  lagS: number | undefined,
): readonly OnTime[] {
  const { series } = design;
  const { start: from, end: to } = rangeAround(series, train.onTimes, 60);
  const near = partOf(series, from, to);
  const part = new ReadingsDesign(near);
  // Dips found before are fitted beside this one; those that lie elsewhere leave nothing here.
  const earlier = known.templates.map((one) => one.subarray(from, to)).filter((one) => one.some((v) => v !== 0));
  const members = shownMembers(part, train.onTimes, {
    noise,
    lagS: lagS ?? TYPICAL_LAG_S,
    earlier,
    taken: known.onTimes,
  });
  const meter = lagS === undefined ? undefined : { lagS };
  const start = {
    shiftS: 0,
    lagS: lagS ?? TYPICAL_LAG_S,
    inrush: 0.3,
    settleS: 2.5,
    polarization: 0.3,
    polarizationS: 20,
  };
  const refined = refineDepth(
    {
      sampled: near,
      blockS: near.blockS,
      ...part.columns(earlier),
      noise,
      onTimes: members,
      kind: null,
      meter,
      timeUncertaintyS: 0.4,
    },
    { shape: start, depthV },
  );
  const shapes = [
    refined.shape,
    { ...refined.shape, inrush: refined.shape.inrush + 0.5 },
    { ...refined.shape, polarization: refined.shape.polarization + 0.5 },
  ];
  for (const shape of shapes) {
    const template = dipTemplate(series.timesS, series.blockS, refined.onTimes, shape);
    if (saysMore(design, known.templates, template, noise)) known.templates.push(template);
  }
  known.onTimes.push(...refined.onTimes);
  return refined.onTimes;
}

/** Whether a template is more than a sum of others: the readings of a dip beside a gap may be too few to tell its shapes apart. */
function saysMore(
  design: ReadingsDesign,
  others: readonly Float64Array[],
  template: Float64Array,
  noise: NoiseParameters,
): boolean {
  const { columns } = design.columns(others, [template]);
  const counts = { common: 2 + others.length, templates: 1 };
  return Number.isFinite(matchedScores(design.series, columns, counts, noise, false).uAmplitudesV[0]);
}

/** A member of a train is kept from this many standard uncertainties and this share of the mean depth on. */
const MEMBER_SCORE = 2;
const MEMBER_SHARE = 0.4;
/** A neighbour that the search left out joins only when it is beyond doubt. */
const JOINING_SCORE = 4;

/** The members of a train that the readings show, with neighbours at the same rhythm; all of them when none stands out. */
function shownMembers(
  part: ReadingsDesign,
  onTimes: readonly OnTime[],
  beside: {
    readonly noise: NoiseParameters;
    readonly lagS: number;
    readonly earlier: readonly Float64Array[];
    readonly taken: readonly OnTime[];
  },
): readonly OnTime[] {
  const { noise, lagS, earlier, taken } = beside;
  const { timesS, blockS } = part.series;
  const periodS =
    onTimes.length > 1 ? onTimes[1].onsetS - onTimes[0].onsetS : 2 * (onTimes[0].releaseS - onTimes[0].onsetS);
  const moved = (onTime: OnTime, byS: number) => ({ onsetS: onTime.onsetS + byS, releaseS: onTime.releaseS + byS });
  const last = onTimes[onTimes.length - 1];
  const candidates = [moved(onTimes[0], -periodS), ...onTimes, moved(last, periodS)];
  const inside = candidates.filter(
    (onTime) =>
      onTimes.includes(onTime) ||
      (onTime.onsetS > timesS[0] + 1 &&
        onTime.releaseS < timesS[timesS.length - 1] - 1 &&
        !taken.some((one) => one.onsetS < onTime.releaseS && onTime.onsetS < one.releaseS)),
  );
  const shape = plainShape(lagS);
  const joint = part.jointDepths(
    [...inside.map((onTime) => dipTemplate(timesS, blockS, [onTime], shape)), ...earlier],
    noise,
  );
  if (joint === null) return onTimes;
  const size = inside.length + earlier.length;
  const own = inside.map((onTime, k) => ({
    onTime,
    depthV: joint.depthsV[k],
    score: joint.depthsV[k] / Math.sqrt(joint.covarianceV2[k * size + k]),
    searched: onTimes.some(({ onsetS }) => onsetS === onTime.onsetS),
  }));
  const searched = own.filter((one) => one.searched);
  const deepestV = Math.max(...searched.map((one) => one.depthV));
  const shown = own.filter(
    ({ depthV, score, searched: was }) =>
      depthV > MEMBER_SHARE * deepestV && score > (was ? MEMBER_SCORE : JOINING_SCORE),
  );
  return shown.length > 0 ? shown.map(({ onTime }) => onTime) : onTimes;
}

function rangeAround(
  series: WorkingSeries,
  onTimes: readonly OnTime[],
  marginS: number,
): { readonly start: number; readonly end: number } {
  return {
    start: firstAtOrAfter(series.timesS, onTimes[0].onsetS - marginS),
    end: firstAtOrAfter(series.timesS, onTimes[onTimes.length - 1].releaseS + marginS),
  };
}
