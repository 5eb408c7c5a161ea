import { InputError } from "../input-error.js";
import type { DialFound } from "./dial-finding.js";
import { turnBetween } from "./dial-geometry.js";
import type { FrameSource, PixelArea } from "./frame.js";
import { type FollowedFrame, frameFollower, isRegistered } from "./frame-follower.js";
import { astray } from "./needle-astray.js";
import type { NeedleFit } from "./needle-fit.js";
import { needlePatch, type PolarGrid, polarGrid } from "./needle-patch.js";
import { needleProfile } from "./needle-profile.js";
import { type NeedleTrack, trackNeedle } from "./needle-track.js";
import { angleUncertainties } from "./reading-uncertainty.js";
import { registrationTemplate } from "./registration-template.js";
import { changeWatch, type PictureChange, repeatedPictures } from "./repeated-pictures.js";
import { framePlanes, raySource } from "./smooth-sampling.js";
import { steadied } from "./view-prediction.js";
import type { Warp } from "./warp.js";
import { unmoved } from "./warp.js";

export { type Dial, formatDial, parseDial } from "./dial.js";
export { type DialFound, type DialHints, findDial } from "./dial-finding.js";
export type { DialDoubt, DialQuestion } from "./dial-question.js";

/** Why a frame gave no reading. */
export type FrameFault = "dial-lost" | "needle-hidden" | "needle-astray" | "beyond-scale" | "picture-repeated";

/** What each frame of the clip was worth. */
export interface FrameQuality {
  readonly timeS: number;
  readonly fault: FrameFault | null;
  /** Share of the dial's contrast and of the needle's that the fits explain; 0 where there was no fit. */
  readonly dialMatch: number;
  readonly needleMatch: number;
  /** Where the reference lies in this frame; null when the dial was lost. */
  readonly warp: Warp | null;
}

/** The needle read from every frame in which it could be seen. */
export interface NeedleReading {
  /** Presentation times of the readings, s on the container's clock. */
  readonly timesS: Float64Array;
  readonly voltagesV: Float64Array;
  /** Standard uncertainty of each reading against its neighbours. */
  readonly readingUncertaintiesV: Float64Array;
  /** What each reading would change by if the needle might also lie aside of its pivot: sure on average, rough in one frame. */
  readonly asidesV: Float64Array;
  /** Angle of the needle in the still, degrees clockwise from the coded picture's up. */
  readonly anglesDeg: Float64Array;
  readonly frameQuality: readonly FrameQuality[];
  /** Stretches without a reading, from the last one before to the first one after. */
  readonly gaps: readonly { readonly startS: number; readonly endS: number; readonly fault: FrameFault }[];
  /** Standard uncertainty that all readings share. */
  readonly offsetUncertaintyV: number;
  /** Standard uncertainty of differences between readings, as a fraction. */
  readonly gainUncertainty: number;
  readonly dial: DialFound;
}

export interface ReadingProgress {
  readonly framesRead: number;
  readonly frameCount: number | null;
}

/**
 * Reads the needle in every frame: registers the frame to the dial's still, fits the needle, and turns angle into volts.
 *
 * @throws {InputError} when the clip has no frame or the needle is seen in too few of them.
 */
export async function readNeedle(
  source: FrameSource,
  dial: DialFound,
  onProgress?: (progress: ReadingProgress) => void,
  signal?: AbortSignal,
): Promise<NeedleReading> {
  const { area, grid, profile, follow } = setUp(source, dial);
  const followed: FollowedFrame[] = [];
  const changes: PictureChange[] = [];
  const changeOf = changeWatch(area, grid, dial.needle.halfWidthPx);
  for await (const frame of source.frames(area, signal)) {
    signal?.throwIfAborted();
    const seen = follow(frame);
    followed.push(seen);
    changes.push(changeOf(frame, seen));
    onProgress?.({ framesRead: followed.length, frameCount: source.frameCount });
  }
  if (followed.length === 0)
    throw new InputError({ problem: "the clip yields no frame", remedy: "check that the file is a whole video clip" });
  const repeats = repeatedPictures(
    followed.map(({ timeS }) => timeS),
    changes,
  );
  const frames = steadied(
    followed.map((frame, index) => (repeats[index] ? { ...frame, registration: null, patch: null, fit: null } : frame)),
    grid,
    dial.scaleRadiusPx,
  );
  const track = trackNeedle(frames, grid, profile);
  const judged = judgeFits(track.fits);
  if (judged.filter((fit) => fit !== null).length < 3)
    throw new InputError({
      problem: `the needle was seen in ${judged.filter((fit) => fit !== null).length} of ${frames.length} frames`,
      remedy: "film with the dial filling the picture and the needle in view, or correct the dial with --dial",
    });
  return assemble(dial, frames, repeats, judged, grid, track);
}

/** A needle of this half-width is still one on means of 2 x 2 pixels, which hold less of the codec's noise. */
const WIDE_NEEDLE_PX = 7;

function setUp(source: FrameSource, dial: DialFound) {
  const { pivot, needle, reference, scaleRadiusPx } = dial;
  const grid = polarGrid(pivot, needle.innerPx, needle.outerPx, needle.halfWidthPx < WIDE_NEEDLE_PX ? 1 : 2);
  const reach = Math.ceil((2.2 * Math.max(needle.halfWidthPx, 0.03 * scaleRadiusPx)) / needle.innerPx / grid.stepRad);
  const centre = Math.round(needle.angleRad / grid.stepRad);
  const whole = { x: 0, y: 0, width: reference.width, height: reference.height };
  const planes = framePlanes(reference);
  const patch = needlePatch({ pixels: raySource(planes), area: whole }, unmoved(pivot.x, pivot.y), grid, {
    firstStep: centre - reach - 4,
    stepCount: 2 * reach + 9,
  });
  const profile = needleProfile(patch, grid, reach + 4, reach);
  const wanted = (x: number, y: number) => {
    const radius = Math.hypot(x - pivot.x, y - pivot.y);
    if (radius > 1.5 * scaleRadiusPx || radius < 0.25 * scaleRadiusPx) return false;
    const turn = turnBetween(needle.angleRad, Math.atan2(y - pivot.y, x - pivot.x));
    const beside = Math.abs(turn) < 0.13 || Math.abs(Math.abs(turn) - Math.PI) < 0.13;
    return !(beside && radius < 1.05 * scaleRadiusPx);
  };
  const template = registrationTemplate(planes, { x: pivot.x, y: pivot.y, lengthPx: scaleRadiusPx }, wanted);
  const area = cropAround(source, dial);
  const follow = frameFollower({
    area,
    template,
    grid,
    profile,
    startStep: centre,
    reachPx: 0.6 * scaleRadiusPx,
  });
  return { area, grid, profile, follow };
}

/** The dial with room for shake, on pixels in fours. */
function cropAround(source: FrameSource, dial: DialFound): PixelArea {
  const reach = 1.8 * dial.scaleRadiusPx;
  const x = Math.max(0, 4 * Math.floor((dial.pivot.x - reach) / 4));
  const y = Math.max(0, 4 * Math.floor((dial.pivot.y - reach) / 4));
  return {
    x,
    y,
    width: Math.min(source.width - x, 4 * Math.ceil((2 * reach) / 4)),
    height: Math.min(source.height - y, 4 * Math.ceil((2 * reach) / 4)),
  };
}

/** Drops fits that are much worse than the clip's own usual. */
function judgeFits(fits: readonly (NeedleFit | null)[]): (NeedleFit | null)[] {
  const known = fits.filter((fit) => fit !== null);
  const middle = (values: number[]) => values.sort((a, b) => a - b)[values.length >> 1] ?? 0;
  const left = middle(known.map((fit) => 1 - fit.explained));
  const gain = middle(known.map((fit) => fit.gain));
  return fits.map((fit) => {
    if (fit === null) return null;
    const poor = 1 - fit.explained > Math.max(6 * left, 0.15) || fit.gain < 0.45 * gain || fit.gain > 2.2 * gain;
    return poor ? null : fit;
  });
}

function assemble(
  dial: DialFound,
  frames: readonly FollowedFrame[],
  repeats: readonly boolean[],
  fits: readonly (NeedleFit | null)[],
  grid: PolarGrid,
  track: Pick<NeedleTrack, "axisRad" | "uAxisRad" | "uFollowing" | "uEyeRad" | "asideRad">,
): NeedleReading {
  const radiusPx = (dial.needle.innerPx + dial.needle.outerPx) / 2;
  const registrations = frames.map((frame) => frame.registration);
  const times = frames.map(({ timeS }) => timeS);
  const doubts = angleUncertainties(times, fits, registrations, grid.stepRad, radiusPx, dial.scaleRadiusPx);
  const seen = frames.map((frame, index): { fault: FrameFault | null; angle: number; volts: number } => {
    const fit = fits[index] ?? null;
    const angle = fit === null ? Number.NaN : fit.step * grid.stepRad + track.axisRad;
    const volts = fit === null ? Number.NaN : dial.curve.voltsAt(angle);
    const at = { angle, volts };
    if (repeats[index]) return { ...at, fault: "picture-repeated" };
    if (!isRegistered(frame.registration)) return { ...at, fault: "dial-lost" };
    if (!Number.isFinite(track.asideRad[index]! + angle)) return { ...at, fault: "needle-hidden" };
    return { ...at, fault: isBeyond(dial, volts) ? "beyond-scale" : null };
  });
  const isAstray = astray(
    seen.map(({ fault, volts }, index) => ({
      timeS: times[index]!,
      volts: fault === null ? volts : null,
      isHidden: fault === "needle-hidden",
    })),
    markedRange(dial).high - markedRange(dial).low,
  );
  const frameQuality = frames.map(
    (frame, index): FrameQuality => ({
      timeS: frame.timeS,
      fault: isAstray[index] ? "needle-astray" : seen[index]!.fault,
      dialMatch: frame.registration?.match ?? 0,
      needleMatch: Math.max(0, frame.fit?.explained ?? 0),
      warp: frame.registration?.warp ?? null,
    }),
  );
  const readings = frameQuality.flatMap(({ timeS, fault }, index) => {
    if (fault !== null) return [];
    const { angle, volts } = seen[index]!;
    const slope = dial.curve.slopeAt(angle);
    const uV = Math.abs(slope) * Math.hypot(doubts[index]!, track.uEyeRad);
    return [{ timeS, volts, uV, asideV: slope * track.asideRad[index]!, angle }];
  });
  const anglesDeg = Float64Array.from(readings, ({ angle }) => ((((angle * 180) / Math.PI + 90) % 360) + 360) % 360);
  return {
    timesS: Float64Array.from(readings, ({ timeS }) => timeS),
    voltagesV: Float64Array.from(readings, ({ volts }) => volts),
    readingUncertaintiesV: Float64Array.from(readings, ({ uV }) => uV),
    asidesV: Float64Array.from(readings, ({ asideV }) => asideV),
    anglesDeg,
    frameQuality,
    gaps: gapsOf(frameQuality),
    ...scaleUncertainty(
      dial,
      track,
      readings.map(({ angle }) => angle),
    ),
    dial,
  };
}

function markedRange({ curve }: DialFound): { low: number; high: number } {
  const known = curve.knots.map((knot) => knot.volts);
  return { low: Math.min(...known), high: Math.max(...known) };
}

/** More than a tenth of the marked range outside it: the curve says nothing there. */
function isBeyond(dial: DialFound, volts: number): boolean {
  const { low, high } = markedRange(dial);
  const room = 0.1 * (high - low);
  return volts < low - room || volts > high + room;
}

function gapsOf(quality: readonly FrameQuality[]): NeedleReading["gaps"] {
  const gaps: { startS: number; endS: number; fault: FrameFault }[] = [];
  let open: { startS: number; fault: FrameFault } | null = null;
  quality.forEach((frame, index) => {
    if (frame.fault !== null) open ??= { startS: quality[Math.max(0, index - 1)]!.timeS, fault: frame.fault };
    else if (open !== null) {
      gaps.push({ ...open, endS: frame.timeS });
      open = null;
    }
  });
  if (open !== null) gaps.push({ ...(open as { startS: number; fault: FrameFault }), endS: quality.at(-1)!.timeS });
  return gaps;
}

/**
 * Standard uncertainty of the gain that the geometry does not explain, by where the scale comes from; with the pivot right,
 * simulated clips were read within 0.3 % through a person's marks (`npm run bench:video`).
 */
const UNEXPLAINED_GAIN = { marks: 0.004, profile: 0.035 } as const;

/** The doubt of the knots about the needle, and of the axis; the slope's from the two knots nearest around it. */
function scaleUncertainty(
  dial: DialFound,
  { uAxisRad, uFollowing }: Pick<NeedleTrack, "uAxisRad" | "uFollowing">,
  angles: readonly number[],
) {
  const sorted = [...angles].sort((a, b) => a - b);
  const middle = sorted[sorted.length >> 1] ?? dial.needle.angleRad;
  const slope = Math.abs(dial.curve.slopeAt(middle));
  const apart = dial.curve.knots
    .map((knot) => ({ knot, turn: Math.abs(turnBetween(knot.angleRad, middle)) }))
    .sort((a, b) => a.turn - b.turn);
  const near = apart.slice(0, dial.curve.kind === "pieces" ? 2 : Math.min(8, apart.length)).map(({ knot }) => knot);
  const uKnot = Math.sqrt(near.reduce((sum, knot) => sum + knot.uAngleRad ** 2, 0)) / near.length;
  const places = near.map((knot) => knot.angleRad);
  const span = Math.max(...places) - Math.min(...places);
  // Along the needle a pivot off by a pixel moves the angle of a needle read at radius r by 1 / r of its turn and the marks'
  // by 1 / radius of the scale.
  const { innerPx, outerPx } = dial.needle;
  const uPivot = dial.uPivotAlongPx * (Math.log(outerPx / innerPx) / (outerPx - innerPx) - 1 / dial.scaleRadiusPx);
  return {
    offsetUncertaintyV: slope * Math.hypot(uKnot, uAxisRad, 0.25 / dial.scaleRadiusPx),
    gainUncertainty: Math.hypot(
      (2 * uKnot) / Math.max(span, 0.02),
      uPivot,
      uFollowing,
      UNEXPLAINED_GAIN[dial.scaleFrom],
    ),
  };
}
