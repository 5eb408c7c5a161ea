import type { FollowedFrame } from "./frame-follower.js";
import type { PolarGrid } from "./needle-patch.js";
import { addEquation, emptyEquations, product, solveEquations } from "./normal-equations.js";
import { type Warp, warped, warpOf, warpParts } from "./warp.js";

/** Shift (2) and roll of the view, which a hand moves as it likes; then what follows from them or moves slowly: zoom, shears, bends. */
const FREE = 3;
const COUNT = 11;
const HELD = COUNT - FREE;
/** Frames that must have neighbours, for the prediction to be learnt. */
const LEAST_FRAMES = 60;
/** A prediction that misses by more than this many of its usual squared errors has little say. */
const USUAL_MISS = 6;

/** A miss holds the frame's own error and at least that of a mean of four neighbours. */
const MISS_OVER_OWN = 1.25;

interface Views {
  /** Unknowns of the view frame by frame, pixels at the dial's rim. */
  readonly unknowns: readonly (Float64Array | null)[];
  /** Frames with two neighbours on either side at even times. */
  readonly inner: readonly number[];
}

/**
 * Steadies the view of every frame by its neighbours': zoom, shears and bends are what rolling rows make of the camera's
 * speed, or move slowly, so that they can be predicted, which takes their doubt off shift and roll.
 *
 * Each of them is predicted by the mean of the two neighbours and a regression, over the whole clip, on the speed and
 * bending of shift and roll in the four nearest frames (never on the frame itself, never on the needle). Frame and
 * prediction meet by their covariances: the frame's own from its registration, in proportion to what the clip shows; the
 * prediction's misses from the clip, more of them in a frame that is seen worse than usual (moved while it was exposed, or
 * starved by its codec) and less in one seen better. The needle's patches stay as they are sampled and are told how far each band moved.
 */
export function steadied(frames: readonly FollowedFrame[], grid: PolarGrid, lengthPx: number): FollowedFrame[] {
  const views = viewsOf(frames, lengthPx);
  if (views.inner.length < LEAST_FRAMES) return [...frames];
  const misses = predictionMisses(views);
  const usual = usualCovariance(misses);
  const inverse = solveEquations(usual)?.inverse;
  if (inverse === undefined) return [...frames];
  const own = views.inner.map((index) => ownCovariance(frames[index]!));
  const excess = leastExcess(usual.matrix, own);
  const helds = own.map(heldPart);
  const usualHeld = middleOf(helds);
  const result = [...frames];
  views.inner.forEach((index, at) => {
    const matrix = usual.matrix.map((value, part) => value + excess * (helds[at]![part]! - usualHeld[part]!));
    const pull = product(solveEquations({ ...usual, matrix })?.inverse ?? inverse, misses[at]!);
    const miss = pull.reduce((sum, part, held) => sum + part * misses[at]![held]!, 0) / HELD;
    const share = excess / (1 + (miss / USUAL_MISS) ** 2);
    const unknowns = Float64Array.from(views.unknowns[index]!, (value, row) => {
      let sum = 0;
      for (let held = 0; held < HELD; held++) sum += own[at]![row * COUNT + FREE + held]! * pull[held]!;
      return value + share * sum;
    });
    result[index] = withView(frames[index]!, unknowns, grid, lengthPx);
  });
  return result;
}

/** From a warp's parts, `step` apart from `from` on, to the view's unknowns: roll, zoom and two shears in place of the affine part. */
function toUnknowns(values: Float64Array, from = 0, step = 1): Float64Array {
  const [first, second, third, fourth] = [from + 2 * step, from + 3 * step, from + 4 * step, from + 5 * step];
  const [a, b, c, d] = [values[first]!, values[second]!, values[third]!, values[fourth]!];
  values[first] = (c - b) / 2;
  values[second] = (a + d) / 2;
  values[third] = (a - d) / 2;
  values[fourth] = (b + c) / 2;
  return values;
}

function partsOf([shiftX, shiftY, roll, zoom, stretch, shear, ...bends]: readonly number[]): number[] {
  return [shiftX!, shiftY!, zoom! + stretch!, shear! - roll!, shear! + roll!, zoom! - stretch!, ...bends];
}

function viewsOf(frames: readonly FollowedFrame[], lengthPx: number): Views {
  const unknowns = frames.map(({ registration }) =>
    registration === null ? null : toUnknowns(Float64Array.from(warpParts(registration.warp, lengthPx))),
  );
  const apartS = frames.slice(1).map(({ timeS }, index) => timeS - frames[index]!.timeS);
  const usualS = Float64Array.from(apartS).sort()[apartS.length >> 1] ?? 0;
  const isEven = (index: number) => Math.abs(apartS[index]! - usualS) < 0.3 * usualS;
  const inner: number[] = [];
  for (let index = 2; index + 2 < frames.length; index++) {
    const near = [index - 2, index - 1, index, index + 1, index + 2];
    if (near.every((frame) => unknowns[frame] !== null) && near.slice(0, 4).every(isEven)) inner.push(index);
  }
  return { unknowns, inner };
}

/** What tells of a frame's view in its four neighbours: speeds over two and four frames, and bending, of shift and roll, and zoom's speed. */
function cluesAbout(index: number, { unknowns }: Views): Float64Array {
  const [second, first, next, last] = [-2, -1, 1, 2].map((step) => unknowns[index + step]!) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const clues: number[] = [];
  for (let part = 0; part < FREE; part++) {
    clues.push(next[part]! - first[part]!, last[part]! - second[part]!);
    clues.push(last[part]! - next[part]! - first[part]! + second[part]!);
  }
  // Zoom too moves while the rows are read.
  clues.push(next[FREE]! - first[FREE]!);
  return Float64Array.from(clues);
}

/** How far the prediction lies from each inner frame, in the held unknowns. */
function predictionMisses(views: Views): Float64Array[] {
  const clues = views.inner.map((index) => cluesAbout(index, views));
  const misses = clues.map(() => new Float64Array(HELD));
  for (let held = 0; held < HELD; held++) {
    const at = (index: number) => views.unknowns[index]![FREE + held]!;
    const rows = views.inner.map((index, row) => {
      const near = (at(index - 1) + at(index + 1)) / 2;
      const wide = (at(index - 2) + at(index + 2)) / 2;
      return { value: at(index) - near, clues: Float64Array.of(...clues[row]!, wide - near) };
    });
    const weights = robustLine(rows);
    rows.forEach(({ value, clues }, row) => {
      misses[row]![held] = clues.reduce((sum, clue, part) => sum + clue * weights[part]!, 0) - value;
    });
  }
  return misses;
}

/** Least squares of values on clues, reweighted against outliers. */
function robustLine(rows: readonly { readonly value: number; readonly clues: Float64Array }[]): Float64Array {
  const size = rows[0]!.clues.length;
  let weights = new Float64Array(size);
  for (let round = 0; round < 5; round++) {
    const errors = rows.map(({ value, clues }) => value - clues.reduce((sum, clue, k) => sum + clue * weights[k]!, 0));
    const spread = Float64Array.from(errors, Math.abs).sort()[errors.length >> 1]! + 1e-9;
    const sums = emptyEquations(size);
    rows.forEach(({ value, clues }, row) => {
      addEquation(sums, clues, value, 1 / (1 + (errors[row]! / (4.4 * spread)) ** 2));
    });
    const trace = sums.matrix.reduce((sum, value, at) => (at % (size + 1) === 0 ? sum + value : sum), 0);
    for (let k = 0; k < size; k++) sums.matrix[k * (size + 1)]! += (1e-9 * trace) / size + 1e-12;
    const solved = solveEquations(sums);
    if (solved === null) break;
    weights = Float64Array.from(solved.solution);
  }
  return weights;
}

/** Covariance of the misses, in which outliers have little say. */
function usualCovariance(misses: readonly Float64Array[]) {
  let inverse: Float64Array | null = null;
  let usual = emptyEquations(HELD);
  for (let round = 0; round < 4; round++) {
    const sums = emptyEquations(HELD);
    let whole = 0;
    for (const miss of misses) {
      const square = inverse === null ? 0 : product(inverse, miss).reduce((sum, part, k) => sum + part * miss[k]!, 0);
      const weight = 1 / (1 + (square / HELD / 4) ** 2);
      addEquation(sums, miss, 0, weight);
      whole += weight;
    }
    usual = { ...sums, matrix: sums.matrix.map((value) => value / whole) };
    inverse = solveEquations(usual)?.inverse ?? null;
  }
  return usual;
}

/** A frame's own covariance of the unknowns, as registration states it. */
function ownCovariance({ registration }: FollowedFrame): Float64Array {
  const covariance = registration!.covariance.slice();
  for (let column = 0; column < COUNT; column++) toUnknowns(covariance, column, COUNT);
  for (let row = 0; row < COUNT; row++) toUnknowns(covariance, row * COUNT);
  return covariance;
}

/** What of a covariance belongs to the held unknowns. */
function heldPart(covariance: Float64Array): Float64Array {
  return Float64Array.from(
    { length: HELD * HELD },
    (_, at) => covariance[(FREE + Math.floor(at / HELD)) * COUNT + FREE + (at % HELD)]!,
  );
}

/** The median of each element of some matrices. */
function middleOf(matrices: readonly Float64Array[]): Float64Array {
  return matrices[0]!.map(
    (_, at) => Float64Array.from(matrices, (matrix) => matrix[at]!).sort()[matrices.length >> 1]!,
  );
}

/**
 * How much larger errors are than registration states (a codec's are alike all over a block): that of the unknown whose
 * prediction misses by the least.
 */
function leastExcess(usual: Float64Array, own: readonly Float64Array[]): number {
  const ratios = Array.from({ length: HELD }, (_, held) => {
    const stated = Float64Array.from(own, (matrix) => matrix[(FREE + held) * (COUNT + 1)]!).sort();
    return usual[held * (HELD + 1)]! / stated[stated.length >> 1]!;
  });
  return Math.min(...ratios) / MISS_OVER_OWN;
}

function withView(frame: FollowedFrame, unknowns: Float64Array, grid: PolarGrid, lengthPx: number): FollowedFrame {
  const registration = frame.registration!;
  const warp = warpOf(registration.warp, partsOf([...unknowns]), lengthPx);
  const { patch, fit } = frame;
  const moved = { ...frame, registration: { ...registration, warp } };
  if (patch === null || fit === null) return moved;
  const angle = fit.step * grid.stepRad;
  const bandOffsets = patch.bandOffsets.map(
    (offset, band) =>
      offset + sidewaysPx(registration.warp, warp, grid, band, angle) / grid.bandRadiusPx[band]! / grid.stepRad,
  );
  return { ...moved, patch: { ...patch, bandOffsets } };
}

/** How far the second warp lies beyond the first at a place of the needle, across it, in the reference. */
function sidewaysPx(first: Warp, second: Warp, grid: PolarGrid, band: number, angle: number): number {
  const radius = grid.bandRadiusPx[band]!;
  const [cos, sin] = [Math.cos(angle), Math.sin(angle)];
  const [x, y] = [grid.pivotX + radius * cos, grid.pivotY + radius * sin];
  const [from, to] = [warped(first, x, y), warped(second, x, y)];
  const turn = Math.atan2(first.c - first.b, 2 + first.a + first.d);
  const [across, along] = [Math.cos(angle + turn), Math.sin(angle + turn)];
  return (to.y - from.y) * across - (to.x - from.x) * along;
}
