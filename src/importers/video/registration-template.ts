import { type FramePlanes, type GrayPlane, splineWeights } from "./smooth-sampling.js";

/** How many pixels of the frame lie along one of the plane. */
export type Shrink = 2 | 4;

/** Chosen points of the reference at one level: places from the centre, smoothed values and their slopes per pixel. */
export interface TemplatePoints {
  readonly factor: Shrink;
  readonly pointCount: number;
  readonly fromCentreX: Float64Array;
  readonly fromCentreY: Float64Array;
  /** Point by point at each of the blurs of `BLURS`, one blur after the other. */
  readonly values: Float64Array;
  readonly slopesX: Float64Array;
  readonly slopesY: Float64Array;
}

/** What every frame is registered to. */
export interface RegistrationTemplate {
  readonly centreX: number;
  readonly centreY: number;
  /** A length that makes the unknowns of the fit alike in size, pixels. */
  readonly lengthPx: number;
  readonly fine: TemplatePoints;
  readonly coarse: TemplatePoints;
  /** Every other pixel of all clear print at the level of `fine`, for the last step; null where that is not worth its time. */
  readonly last: TemplatePoints | null;
}

const FINE_POINT_COUNT = 2000;
const COARSE_POINT_COUNT = 500;

/**
 * Chooses the points with the steepest slopes, spread over the picture so that every part of the dial has a say.
 *
 * `wanted(x, y)` leaves out what moves by itself, such as the needle.
 */
export function registrationTemplate(
  planes: FramePlanes,
  centre: { x: number; y: number; lengthPx: number },
  wanted: (x: number, y: number) => boolean,
): RegistrationTemplate {
  const { half } = planes;
  return {
    ...quickTemplate(planes, centre, wanted, FINE_POINT_COUNT),
    last: templatePoints(half, 2, centre, everyOther(clearPoints(half, 2, wanted))),
  };
}

/** One without the last step. */
export function quickTemplate(
  planes: FramePlanes,
  centre: { x: number; y: number; lengthPx: number },
  wanted: (x: number, y: number) => boolean,
  finePointCount: number,
): RegistrationTemplate {
  const { half, quarter } = planes;
  return {
    centreX: centre.x,
    centreY: centre.y,
    lengthPx: centre.lengthPx,
    fine: templatePoints(half, 2, centre, steepestSpread(clearPoints(half, 2, wanted), half, finePointCount)),
    coarse: templatePoints(
      quarter,
      4,
      centre,
      steepestSpread(clearPoints(quarter, 4, wanted), quarter, COARSE_POINT_COUNT),
    ),
    last: null,
  };
}

/** Blurs beyond the reference's own at which a frame may see it: variances, pixels squared. */
export const BLURS = [0, 0.35, 1, 2.5] as const;

/** Weights of the pixels from `first` on, along one axis. */
interface AxisWeights {
  readonly first: number;
  readonly weights: Float64Array;
}

/**
 * What gives the weights for a place along an axis of `length` pixels, in a plane that `sampleSmooth` sees through a further
 * Gaussian blur: a mean of its values at whole shifts, of which those that leave the plane have no say.
 */
function axisBlur(variance: number): (place: number, length: number) => AxisWeights {
  const reach = Math.ceil(2.5 * Math.sqrt(variance));
  const uncut = new Map<number, Float64Array>();
  const weightsOf = (fraction: number, isSeen: (shift: number) => boolean) => {
    const spline = splineWeights(fraction);
    const weights = new Float64Array(2 * reach + 4);
    let sum = 0;
    for (let shift = -reach; shift <= reach; shift++) {
      if (!isSeen(shift)) continue;
      const weight = shift === 0 ? 1 : Math.exp(-(shift * shift) / (2 * variance));
      sum += weight;
      for (let tap = 0; tap < 4; tap++) weights[shift + reach + tap]! += weight * spline[tap]!;
    }
    return weights.map((weight) => weight / sum);
  };
  return (place, length) => {
    const whole = Math.floor(place);
    const fraction = place - whole;
    const first = whole - reach - 1;
    if (first < 0 || whole + reach >= length - 2)
      return { first, weights: weightsOf(fraction, (shift) => whole + shift >= 1 && whole + shift < length - 2) };
    let weights = uncut.get(fraction);
    if (weights === undefined) {
      weights = weightsOf(fraction, () => true);
      uncut.set(fraction, weights);
    }
    return { first, weights };
  };
}

/** The plane's value by the weights of both axes; pixels outside the plane have no weight. */
function weighted({ values, stride }: GrayPlane, across: AxisWeights, down: AxisWeights): number {
  let sum = 0;
  for (let row = 0; row < down.weights.length; row++) {
    const weight = down.weights[row]!;
    if (weight === 0) continue;
    const from = (down.first + row) * stride + across.first;
    let along = 0;
    for (let column = 0; column < across.weights.length; column++) {
      const share = across.weights[column]!;
      if (share !== 0) along += share * values[from + column]!;
    }
    sum += weight * along;
  }
  return sum;
}

/** Squared slope against that of the strong points, below which a point is more likely noise; unless too few are left. */
const WEAKEST_SHARE = 0.02;
const LEAST_POINTS = 200;

interface Candidate {
  readonly column: number;
  readonly row: number;
  readonly steepness: number;
}

function templatePoints(
  plane: GrayPlane,
  factor: Shrink,
  centre: { x: number; y: number },
  chosen: readonly Candidate[],
): TemplatePoints {
  const blurs = factor === 2 ? BLURS : BLURS.slice(0, 1);
  const size = chosen.length * blurs.length;
  const points: TemplatePoints = {
    factor,
    pointCount: chosen.length,
    fromCentreX: new Float64Array(chosen.length),
    fromCentreY: new Float64Array(chosen.length),
    values: new Float64Array(size),
    slopesX: new Float64Array(size),
    slopesY: new Float64Array(size),
  };
  chosen.forEach(({ column, row }, index) => {
    points.fromCentreX[index] = column * factor + (factor - 1) / 2 - centre.x;
    points.fromCentreY[index] = row * factor + (factor - 1) / 2 - centre.y;
  });
  blurs.forEach((variance, level) => {
    const blurred = axisBlur(variance);
    chosen.forEach(({ column, row }, index) => {
      const at = level * chosen.length + index;
      const across = (aside: number) => blurred(column + aside, plane.width);
      const down = (aside: number) => blurred(row + aside, plane.height);
      const [middle, centre] = [across(0), down(0)];
      points.values[at] = weighted(plane, middle, centre);
      points.slopesX[at] = (weighted(plane, across(0.5), centre) - weighted(plane, across(-0.5), centre)) / factor;
      points.slopesY[at] = (weighted(plane, middle, down(0.5)) - weighted(plane, middle, down(-0.5))) / factor;
    });
  });
  return points;
}

/** Points whose slope is more than noise's, the wanted ones. */
function clearPoints(plane: GrayPlane, factor: Shrink, wanted: (x: number, y: number) => boolean): Candidate[] {
  // Squared slopes of noise fall off exponentially: 20 times their median is seen once in a million pixels.
  const floor = 20 * usualSteepness(plane, factor, wanted);
  const clear: Candidate[] = [];
  for (let row = 3; row < plane.height - 3; row++) {
    for (let column = 3; column < plane.width - 3; column++) {
      const steepness = centralSteepness(plane, column, row);
      if (!(steepness > floor)) continue;
      if (wanted(column * factor + (factor - 1) / 2, row * factor + (factor - 1) / 2))
        clear.push({ column, row, steepness });
    }
  }
  return clear;
}

/** The points of one colour of a chessboard that are not much weaker than the strong ones: smoothed, the others add hardly more. */
function everyOther(clear: readonly Candidate[]): Candidate[] {
  return notWeak(clear.filter(({ column, row }) => (column + row) % 2 === 0).sort(bySteepness));
}

/** The steepest points, with a bounded share for each cell and none that is much weaker than the strong ones. */
function steepestSpread(clear: readonly Candidate[], plane: GrayPlane, pointCount: number): Candidate[] {
  const cellPx = Math.max(4, Math.round(Math.sqrt((plane.width * plane.height) / 400)));
  const columns = Math.ceil(plane.width / cellPx);
  const cells = new Map<number, Candidate[]>();
  for (const point of clear) {
    const cell = Math.floor(point.row / cellPx) * columns + Math.floor(point.column / cellPx);
    const list = cells.get(cell) ?? [];
    if (list.length === 0) cells.set(cell, list);
    list.push(point);
  }
  const share = Math.max(8, Math.ceil(pointCount / 80));
  const best = [...cells.values()]
    .flatMap((list) => apart(list.sort(bySteepness), share, plane.width))
    .sort(bySteepness)
    .slice(0, pointCount);
  return notWeak(best);
}

function bySteepness(first: Candidate, second: Candidate): number {
  return second.steepness - first.steepness;
}

/** Of points in order of steepness those that are not much weaker than the strong ones, unless too few. */
function notWeak(best: readonly Candidate[]): Candidate[] {
  const strong = best[Math.floor(0.1 * best.length)]?.steepness ?? 0;
  const clear = best.filter(({ steepness }) => steepness > WEAKEST_SHARE * strong);
  return clear.length >= LEAST_POINTS ? clear : [...best];
}

/** The first few of a list of which no two are neighbours: smoothed, neighbours share their noise and tell hardly more. */
function apart(list: readonly Candidate[], count: number, width: number): Candidate[] {
  const taken = new Set<number>();
  const few: Candidate[] = [];
  for (const point of list) {
    if (few.length >= count) break;
    const at = point.row * width + point.column;
    const isFree = [-1, 0, 1].every((down) => [-1, 0, 1].every((right) => !taken.has(at + down * width + right)));
    if (!isFree) continue;
    taken.add(at);
    few.push(point);
  }
  return few;
}

/** Median of the squared slopes: that of noise or texture, since most of a picture is neither edge nor print. */
function usualSteepness(plane: GrayPlane, factor: Shrink, wanted: (x: number, y: number) => boolean): number {
  const seen: number[] = [];
  const stride = Math.max(1, Math.round(Math.sqrt((plane.width * plane.height) / 20_000)));
  for (let row = 3; row < plane.height - 3; row += stride) {
    for (let column = 3; column < plane.width - 3; column += stride) {
      if (wanted(column * factor + (factor - 1) / 2, row * factor + (factor - 1) / 2))
        seen.push(centralSteepness(plane, column, row));
    }
  }
  return seen.sort((a, b) => a - b)[seen.length >> 1] ?? 0;
}

/** Slope of the plane smoothed by 3 x 3 means, squared and summed over both directions. */
function centralSteepness(plane: GrayPlane, column: number, row: number): number {
  const { values, stride } = plane;
  const above = (row - 1) * stride + column;
  const here = above + stride;
  const below = here + stride;
  const right = values[above + 1]! + 2 * values[here + 1]! + values[below + 1]!;
  const left = values[above - 1]! + 2 * values[here - 1]! + values[below - 1]!;
  const under = values[below - 1]! + 2 * values[below]! + values[below + 1]!;
  const over = values[above - 1]! + 2 * values[above]! + values[above + 1]!;
  return (right - left) ** 2 + (under - over) ** 2;
}
