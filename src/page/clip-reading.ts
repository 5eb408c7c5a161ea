import { InputError } from "../importers/browser.js";
import { turnBetween } from "../importers/video/dial-geometry.js";
import type { FrameSource, LumaFrame, PixelArea } from "../importers/video/frame.js";
import { type FollowedFrame, frameFollower } from "../importers/video/frame-follower.js";
import { needlePatch } from "../importers/video/needle-patch.js";
import { needleProfile } from "../importers/video/needle-profile.js";
import { trackNeedle } from "../importers/video/needle-track.js";
import { framePlanes, registrationTemplate } from "../importers/video/registration-template.js";
import { unmoved } from "../importers/video/warp.js";
import type { DialPointing } from "./dial-pointing.js";
import { voltsAt } from "./dial-volts.js";
import { needleOf } from "./still-needle.js";

/** A needle reading as the strip shows it while the clip is read. */
export interface PassingReading {
  readonly timeS: number;
  readonly volts: number | null;
}

export interface ClipReadings {
  readonly timesS: readonly number[];
  readonly volts: readonly number[];
  readonly uV: readonly number[];
  readonly frameCount: number;
}

const PROFILE_REACH = 24;

/**
 * Reads the needle in every frame; frames in which it is not seen are left out.
 *
 * @throws InputError where dial or needle are not found in the still that the person confirmed
 */
export async function readClip(
  source: FrameSource,
  dial: DialPointing,
  onReading: (reading: PassingReading) => void,
  signal?: AbortSignal,
): Promise<ClipReadings> {
  const coded = inCodedPicture(dial, source);
  const area = areaOf(coded, source);
  const scale = within(coded, area);
  const reference = await frameAt(source, area, dial.still.timeS);
  const plane = { ...reference, values: reference.luma };
  const found = needleOf(plane, scale);
  if (found === null) {
    throw new InputError({
      problem: "no needle is seen in the still",
      remedy: "move the pivot and the marks, or choose another still",
    });
  }
  const { grid, needle } = found;
  const whole = { x: 0, y: 0, width: reference.width, height: reference.height };
  const step = needle.angleRad / grid.stepRad;
  const half = 3 * PROFILE_REACH;
  const firstStep = Math.round(step) - half;
  const planes = framePlanes(plane);
  const patch = needlePatch({ full: plane, area: whole }, unmoved(found.pivot.x, found.pivot.y), grid, {
    firstStep,
    stepCount: 2 * half + 1,
  });
  const reach = Math.min(
    PROFILE_REACH,
    Math.max(8, Math.round((2.5 * needle.halfWidthPx) / (grid.stepRad * needle.innerPx))),
  );
  const profile = needleProfile(patch, half, reach);
  const sweep = 0.12;
  const isNeedle = (x: number, y: number): boolean => {
    const reachPx = Math.hypot(x - found.pivot.x, y - found.pivot.y);
    if (reachPx < 0.3 * needle.outerPx) return true;
    const angle = Math.atan2(y - found.pivot.y, x - found.pivot.x);
    return reachPx < 1.05 * needle.outerPx && Math.abs(turnBetween(needle.angleRad, angle)) < sweep;
  };
  const template = registrationTemplate(
    planes,
    { x: found.pivot.x, y: found.pivot.y, lengthPx: needle.outerPx },
    (x, y) => !isNeedle(x, y),
  );
  const follow = frameFollower({
    area: whole,
    template,
    grid,
    profile,
    startStep: step,
    reachPx: 0.2 * needle.outerPx,
  });
  const frames: FollowedFrame[] = [];
  const voltsOf = (angleRad: number) => voltsAt({ ...scale, pivot: found.pivot }, angleRad);
  for await (const frame of source.frames(area, signal)) {
    const followed = follow(frame);
    frames.push(followed);
    onReading({
      timeS: frame.timeS,
      volts: followed.fit === null ? null : voltsOf(followed.fit.step * grid.stepRad),
    });
  }
  return readingsOf(frames, trackNeedle(frames, grid, profile), grid.stepRad, voltsOf);
}

function readingsOf(
  frames: readonly FollowedFrame[],
  track: ReturnType<typeof trackNeedle>,
  stepRad: number,
  voltsOf: (angleRad: number) => number,
): ClipReadings {
  const timesS: number[] = [];
  const volts: number[] = [];
  const uV: number[] = [];
  track.fits.forEach((fit, i) => {
    if (fit === null) return;
    const angleRad = fit.step * stepRad + track.axisRad;
    const voltsPerRad = (voltsOf(angleRad + 0.005) - voltsOf(angleRad - 0.005)) / 0.01;
    timesS.push(frames[i]!.timeS);
    volts.push(voltsOf(angleRad));
    uV.push(Math.max(1e-6, Math.abs(voltsPerRad) * fit.formalU * stepRad));
  });
  return { timesS, volts, uV, frameCount: frames.length };
}

/** The first frame at or after a time, kept apart from the source's own buffer. */
async function frameAt(source: FrameSource, area: PixelArea, timeS: number): Promise<LumaFrame> {
  let last: LumaFrame | null = null;
  for await (const frame of source.frames(area)) {
    last = { ...frame, luma: frame.luma.slice(0, frame.stride * (frame.height - 1) + frame.width) };
    if (frame.timeS >= timeS - 1e-3) break;
  }
  if (last === null) throw new InputError({ problem: "the clip has no picture", remedy: "choose another clip" });
  return last;
}

/** The dial's points in the picture as it is coded, before it is turned upright. */
export function inCodedPicture(
  dial: DialPointing,
  { rotationDeg, width, height }: Pick<FrameSource, "rotationDeg" | "width" | "height">,
): DialPointing {
  const turned = <P extends { readonly x: number; readonly y: number }>(place: P): P => {
    const { x, y } = place;
    if (rotationDeg === 90) return { ...place, x: y, y: height - 1 - x };
    if (rotationDeg === 180) return { ...place, x: width - 1 - x, y: height - 1 - y };
    if (rotationDeg === 270) return { ...place, x: width - 1 - y, y: x };
    return place;
  };
  return { ...dial, pivot: turned(dial.pivot), marks: dial.marks.map(turned) };
}

/** A square about the dial with room for a hand that shakes. */
function areaOf({ pivot, marks }: DialPointing, { width, height }: Pick<FrameSource, "width" | "height">): PixelArea {
  const reach = 1.45 * Math.max(...marks.map((mark) => Math.hypot(mark.x - pivot.x, mark.y - pivot.y)));
  const even = (value: number) => 2 * Math.floor(value / 2);
  const x = even(Math.max(0, pivot.x - reach));
  const y = even(Math.max(0, pivot.y - reach));
  return {
    x,
    y,
    width: even(Math.min(width, pivot.x + reach) - x),
    height: even(Math.min(height, pivot.y + reach) - y),
  };
}

function within(dial: DialPointing, { x, y }: PixelArea): DialPointing {
  const moved = <P extends { readonly x: number; readonly y: number }>(place: P): P => ({
    ...place,
    x: place.x - x,
    y: place.y - y,
  });
  return { ...dial, pivot: moved(dial.pivot), marks: dial.marks.map(moved) };
}
