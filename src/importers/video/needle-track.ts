import { type BandFollowing, bandFollowing, followingBands, followingUncertainty } from "./band-following.js";
import { catmullRom } from "./band-samples.js";
import { type BandWeights, bandWeights } from "./band-weights.js";
import { type EyeWalk, walkOfTheEye } from "./eye-place.js";
import { flankFollowing, flankUncertainty } from "./flank-following.js";
import type { FollowedFrame } from "./frame-follower.js";
import { fitNeedle, type NeedleFit } from "./needle-fit.js";
import type { NeedlePatch, PolarGrid } from "./needle-patch.js";
import { axisColumns, axisSkew, type NeedleProfile, needleProfile } from "./needle-profile.js";
import { type Parallax, parallaxOf } from "./parallax.js";
import { withoutQuickAside } from "./quick-aside.js";
import { inSteadyLight } from "./steady-light.js";
import { warped } from "./warp.js";

/** The needle's angle in every frame in which it was seen. */
export interface NeedleTrack {
  readonly profile: NeedleProfile;
  readonly parallax: Parallax;
  /** Angle of the needle's axis at the profile's centre column, radians beyond the column's own. */
  readonly axisRad: number;
  readonly uAxisRad: number;
  /** Standard uncertainty of every turn's size by print beside the needle, or by an eye that moved as it turned; a fraction. */
  readonly uFollowing: number;
  /** Standard uncertainty of every angle by what is left of the eye's movement; frames that follow each other err alike. */
  readonly uEyeRad: number;
  /** The turn that each fit would have beside its own if the needle might lie aside, radians; NaN where it was not seen. */
  readonly asideRad: Float64Array;
  /** Per frame; null where the needle was not seen. */
  readonly fits: readonly (NeedleFit | null)[];
  /** Sideways shift taken off by parallax, pixels. */
  readonly lateralPx: Float64Array;
}

/** How far the pivot may be off along the needle, by its length: three times what clicks left of it (DEVELOPERS.md, Gain). */
const PIVOT_SHARE = 0.005;
/** How often bands that show something else than the needle are looked for. */
const MOST_ROUNDS = 3;
/** Fewer bands cannot tell a needle that turns from one that lies aside. */
const LEAST_BANDS = 3;

/** Fits every patch again with a profile made from all of them, and takes off what parallax moved. */
export function trackNeedle(frames: readonly FollowedFrame[], grid: PolarGrid, first: NeedleProfile): NeedleTrack {
  const lateralSteps = new Float64Array(frames.length);
  let fits: (NeedleFit | null)[] = frames.map((frame) => frame.fit);
  let profile = first;
  let shown: readonly boolean[] = Array.from({ length: first.bandCount }, () => true);
  let bands = bandWeights(fits, shown, profile, grid);
  let parallax: Parallax = parallaxOf([]);
  let eye: EyeWalk = walkOfTheEye([], 1);
  const refit = (lightSlopes: readonly (Float64Array | null)[] = []) =>
    frames.map(({ patch, fit }, index) => {
      if (patch === null || fit === null) return null;
      const start = fits[index]?.step ?? fit.step;
      const lateral = lateralSteps[index]!;
      return fitNeedle(patch, profile, start, {
        ...{ bands, bandRadiusPx: grid.bandRadiusPx, lateral },
        lightSlopes: lightSlopes[index] ?? undefined,
      });
    });
  const pass = () => {
    profile = meanProfile(frames, fits, first, lateralSteps, grid) ?? profile;
    fits = refit();
    const perTurnPx = shiftPerTurn(bands, grid);
    const clues = fits.map((fit) => fit && clueOf(fit, perTurnPx, grid));
    parallax = parallaxFromClues(frames, clues, grid, perTurnPx);
    const byShake = frames.map((frame) => (frame.registration === null ? 0 : lateralAt(frame, grid, parallax)));
    eye = walkOfTheEye(
      frames.map(({ timeS }, index) => ({
        timeS,
        shiftPx: (clues[index]?.shiftPx ?? Number.NaN) - byShake[index]!,
        turnRad: clues[index]?.turnRad ?? Number.NaN,
      })),
      PIVOT_SHARE * grid.bandRadiusPx.at(-1)!,
    );
    lateralSteps.set(byShake.map((px, index) => (px + eye.asidePx[index]!) / grid.stepRad));
    fits = refit();
    bands = bandWeights(fits, shown, profile, grid);
  };
  const passTwice = (): BandFollowing | null => {
    pass();
    pass();
    return bandFollowing(fits, first.bandCount);
  };
  let following = passTwice();
  let uFollowing = 0;
  for (let round = 0; round < MOST_ROUNDS && following !== null; round++) {
    uFollowing = Math.max(uFollowing, followingUncertainty(following, bands.shares));
    const follows = followingBands(following, bands.shares);
    const kept = shown.map((isShown, band) => isShown && follows[band]!);
    if (kept.filter(Boolean).length < LEAST_BANDS || kept.every((isKept, band) => isKept === shown[band])) break;
    shown = kept;
    bands = bandWeights(fits, shown, profile, grid);
    following = passTwice();
  }
  const times = frames.map(({ timeS }) => timeS);
  fits = inSteadyLight(times, fits, refit);
  const flanks = flankFollowing(frames, fits, profile, bands.weights, grid);
  const perTurnPx = shiftPerTurn(bands, grid);
  fits = withoutQuickAside(times, fits, grid, perTurnPx);
  return {
    profile,
    parallax,
    ...axisOffset(profile, grid, shown),
    uFollowing: Math.max(
      Math.hypot(uFollowing, flanks === null ? 0 : flankUncertainty(flanks)),
      Math.abs(eyeShare(fits, eye, perTurnPx * grid.stepRad)),
    ),
    uEyeRad: eye.uPx / perTurnPx,
    asideRad: Float64Array.from(fits, (fit) =>
      fit === null ? Number.NaN : ((fit.lateral - fit.freeLateral) * grid.stepRad) / perTurnPx,
    ),
    fits,
    lateralPx: lateralSteps.map((steps) => steps * grid.stepRad),
  };
}

/**
 * The part of the needle's plain turns that was taken for the eye's. Print all along the needle holds it back as an eye that
 * moves with it would: the two cannot be told apart, so that the size of what turned with the eye is in doubt by that part.
 */
function eyeShare(fits: readonly (NeedleFit | null)[], { asidePx, uPx }: EyeWalk, perStepPx: number): number {
  if (uPx === 0) return 0;
  const turns = fits.flatMap((fit, at) => {
    const eye = asidePx[at]! / perStepPx;
    return fit === null ? [] : [{ eye, plain: fit.step + eye }];
  });
  const mean = (of: (turn: (typeof turns)[number]) => number) =>
    turns.reduce((sum, turn) => sum + of(turn), 0) / turns.length;
  const [middle, middleEye] = [mean(({ plain }) => plain), mean(({ eye }) => eye)];
  const square = mean(({ plain }) => (plain - middle) ** 2);
  return square > 0 ? mean(({ plain, eye }) => (plain - middle) * (eye - middleEye)) / square : 0;
}

function movement(frame: FollowedFrame, grid: PolarGrid): { x: number; y: number } {
  const place = warped(frame.registration!.warp, grid.pivotX, grid.pivotY);
  return { x: place.x - grid.pivotX, y: place.y - grid.pivotY };
}

function lateralAt(frame: FollowedFrame, grid: PolarGrid, parallax: Parallax): number {
  const moved = movement(frame, grid);
  return parallax.perX * moved.x + parallax.perY * moved.y;
}

/** What a fit tells of a sideways shift, pixels, and the needle's turn with none allowed, radians. */
function clueOf({ step, lateral, freeLateral }: NeedleFit, perTurnPx: number, grid: PolarGrid) {
  return { shiftPx: freeLateral * grid.stepRad, turnRad: (step + lateral / perTurnPx) * grid.stepRad };
}

function parallaxFromClues(
  frames: readonly FollowedFrame[],
  clues: readonly (ReturnType<typeof clueOf> | null)[],
  grid: PolarGrid,
  perTurnPx: number,
): Parallax {
  return parallaxOf(
    frames.map((frame, index) => {
      const clue = clues[index] ?? null;
      if (clue === null) return null;
      const { x, y } = movement(frame, grid);
      return { lateralPx: clue.shiftPx, turnPx: clue.turnRad * perTurnPx, movedX: x, movedY: y };
    }),
  );
}

/** The shift in pixels that passes for a turn of one radian: a mean of the bands' radii by what each has to say. */
function shiftPerTurn({ shares }: BandWeights, grid: PolarGrid): number {
  return 1 / shares.reduce((sum, share, band) => sum + share / grid.bandRadiusPx[band]!, 0);
}

/** Mean of the patches shifted onto each other, each taken to the same contrast. */
function meanProfile(
  frames: readonly FollowedFrame[],
  fits: readonly (NeedleFit | null)[],
  shape: NeedleProfile,
  lateralSteps: Float64Array,
  grid: PolarGrid,
): NeedleProfile | null {
  const { bandCount, stepCount, centreIndex } = shape;
  const sums = new Float64Array(bandCount * stepCount);
  const weights = new Float64Array(bandCount * stepCount);
  const explained = Float64Array.from(
    fits.filter((fit) => fit !== null),
    (fit) => fit.explained,
  ).sort();
  if (explained.length === 0) return null;
  const floor = explained[explained.length >> 2]!;
  const blurs = Float64Array.from(
    fits.filter((fit) => fit !== null),
    (fit) => fit.blur,
  ).sort();
  const ceiling = blurs[blurs.length >> 1]!;
  frames.forEach(({ patch }, index) => {
    const fit = fits[index] ?? null;
    if (patch === null || fit === null || fit.explained < floor || fit.blur > ceiling) return;
    for (let band = 0; band < bandCount; band++) {
      const sideways = lateralSteps[index]! / grid.bandRadiusPx[band]! + patch.bandOffsets[band]!;
      const centre = fit.step + sideways - patch.firstStep;
      addShifted(patch, band, centre - centreIndex, fit.gain, { sums, weights, stepCount });
    }
  });
  const values = Float32Array.from(sums, (sum, at) => (weights[at]! > 0 ? sum / weights[at]! : Number.NaN));
  fillEnds(values, bandCount, stepCount);
  return needleProfile({ stepCount, bandCount, values }, grid, centreIndex, centreIndex);
}

function addShifted(
  patch: NeedlePatch,
  band: number,
  start: number,
  gain: number,
  into: { sums: Float64Array; weights: Float64Array; stepCount: number },
): void {
  const whole = Math.floor(start);
  const [w0, w1, w2, w3] = catmullRom(start - whole);
  const row = patch.values.subarray(band * patch.stepCount, (band + 1) * patch.stepCount);
  const level = Float32Array.from(row).sort()[row.length >> 1]!;
  for (let index = 0; index < into.stepCount; index++) {
    const at = whole + index;
    if (at < 1 || at + 2 >= patch.stepCount) continue;
    const value = w0 * row[at - 1]! + w1 * row[at]! + w2 * row[at + 1]! + w3 * row[at + 2]! - level;
    if (Number.isNaN(value)) continue;
    into.sums[band * into.stepCount + index]! += gain * value;
    into.weights[band * into.stepCount + index]! += gain * gain;
  }
}

function fillEnds(values: Float32Array, bandCount: number, stepCount: number): void {
  for (let band = 0; band < bandCount; band++) {
    const row = values.subarray(band * stepCount, (band + 1) * stepCount);
    for (let index = 1; index < stepCount; index++) if (Number.isNaN(row[index]!)) row[index] = row[index - 1]!;
    for (let index = stepCount - 2; index >= 0; index--) if (Number.isNaN(row[index]!)) row[index] = row[index + 1]!;
  }
}

/** Where the axis lies in the profile: the line angle + sideways / radius through the middles of the bands. */
function axisOffset(profile: NeedleProfile, grid: PolarGrid, shown: readonly boolean[]) {
  const columns = axisColumns(profile);
  const known = [...columns]
    .map((column, band) => ({ column, band }))
    .filter(({ column, band }) => shown[band] && Number.isFinite(column));
  if (known.length < 3) return { axisRad: 0, uAxisRad: 2 * grid.stepRad };
  const sorted = known.map(({ column }) => column).sort((a, b) => a - b);
  const middle = sorted[sorted.length >> 1]!;
  const spread = known.map(({ column }) => Math.abs(column - middle)).sort((a, b) => a - b)[known.length >> 1]!;
  const kept = known.filter(({ column }) => Math.abs(column - middle) <= Math.max(3 * spread, 1));
  const mean = kept.reduce((sum, { column }) => sum + column, 0) / kept.length;
  const scatter = Math.sqrt(
    kept.reduce((sum, { column }) => sum + (column - mean) ** 2, 0) / Math.max(1, kept.length - 1),
  );
  return {
    axisRad: (mean - profile.centreIndex) * grid.stepRad,
    uAxisRad: Math.hypot(Math.max(0.15, scatter / Math.sqrt(kept.length)), axisSkew(profile, shown)) * grid.stepRad,
  };
}
