import { projected } from "../../../samples/footage/camera-motion.js";
import { angleOfVolts, DIAL_STYLES, type DialStyleName } from "../../../samples/footage/dial-style.js";
import { footagePlan } from "../../../samples/footage/footage-plan.js";
import { buildScene } from "../../../samples/footage/scene.js";
import type { FrameSource } from "../../../src/importers/video/frame.js";
import { renderedClip } from "../../importers/video/render/clip.js";
import { trueAngle } from "../../importers/video/render/face.js";
import { HELD_OUT } from "./no-click-trial.js";

/** Frames before the dip and in it, and its depth: enough for an offset and a gain. */
const FRAMES = 6;
const DIP_V = 1.5;
const FULL_SCALE_V = 30;

/** A dial filmed without codec or shake, six frames before a dip of 1.5 V and six in it, and what is true of it. */
export interface StillDial {
  readonly name: string;
  readonly radiusPx: number;
  readonly source: FrameSource;
  readonly timesS: readonly number[];
  readonly truthV: readonly number[];
  /** Where the scale line's place of a voltage lies, and the pivot, in the upright picture. */
  markAt(volts: number): { x: number; y: number };
  readonly pivot: { readonly x: number; readonly y: number };
  /** Turn of the needle for one printed division at a voltage, pixels along the scale. */
  divisionPx(volts: number): number;
}

/** Every dial of both generators at one radius; the needle stands at another place on each. */
export function* stillDials(radiusPx: number): Generator<StillDial> {
  const volts = [24.6, 23.1, 26.2, 24.9, 21.7];
  let index = 0;
  for (const name of Object.keys(DIAL_STYLES) as DialStyleName[]) yield sampleDial(name, radiusPx, volts[index++ % 5]!);
  for (const [name, style] of HELD_OUT) yield heldOutDial(name, style, radiusPx, volts[index++ % 5]!);
}

function sampleDial(name: DialStyleName, radiusPx: number, volts: number): StillDial {
  const [width, height] = [4 * Math.ceil(0.9 * radiusPx), 4 * Math.ceil(0.72 * radiusPx)];
  const plan = footagePlan("tripod", { style: name, radiusPx, width, height, durationS: 5, sound: null });
  const dips = [{ onS: 1, offS: 9, depthV: DIP_V }];
  const scene = buildScene({ ...plan, bus: { ...plan.bus, openCircuitV: volts, slopeVPerS: 0, dips } });
  const timesS = Array.from({ length: 2 * FRAMES }, (_, k) => (k < FRAMES ? 0.5 : 4) + (k % FRAMES) / 30);
  const pictures = timesS.map((timeS) => {
    const luma = new Uint8Array(width * height);
    scene.render(timeS, luma);
    return luma;
  });
  const { view } = scene.truth(timesS[0]!);
  const style = DIAL_STYLES[name];
  const markAt = (value: number) => {
    const angle = (angleOfVolts(style, value) * Math.PI) / 180;
    return projected(view, radiusPx * Math.cos(angle), radiusPx * Math.sin(angle));
  };
  return {
    name: `samples, ${name}`,
    radiusPx,
    source: sourceOf({ width, height, timesS, pictures }),
    timesS,
    truthV: timesS.map((timeS) => scene.truth(timeS).volts),
    markAt,
    pivot: projected(view, 0, 0),
    divisionPx: (value) => apart(markAt(value), markAt(value + 1)),
  };
}

function heldOutDial(name: string, style: (typeof HELD_OUT)[number][1], radiusPx: number, volts: number): StillDial {
  const wide = Math.abs(style.sweepDeg) > 150;
  const [width, height] = [4 * Math.ceil(0.8 * radiusPx), 4 * Math.ceil((wide ? 0.8 : 0.6) * radiusPx)];
  const clip = renderedClip(style, {
    width,
    height,
    pivotX: width / 2 + 2,
    pivotY: wide ? height / 2 + 3 : height - 0.8 * radiusPx,
    radiusPx,
    frameCount: 2 * FRAMES,
    framesPerS: 30,
    seed: 7,
    noise: 2.5,
    glare: 20,
    slopeX: 0.03,
    rollDeg: 2,
    volts: (timeS) => volts - (timeS < (FRAMES - 0.5) / 30 ? 0 : DIP_V),
  });
  const markAt = (value: number) => clip.place(0, 1, trueAngle(style, value));
  let pictures: readonly Uint8Array[] | null = null;
  const source: FrameSource = {
    ...sourceOf({ width, height, timesS: clip.timesS, pictures: [] }),
    async *frames(area, signal) {
      if (pictures === null) {
        const taken: Uint8Array[] = [];
        for await (const { luma } of clip.frames(null)) taken.push(luma);
        pictures = taken;
      }
      yield* sourceOf({ width, height, timesS: clip.timesS, pictures }).frames(area, signal);
    },
  };
  return {
    name: `tests, ${name}`,
    radiusPx,
    source,
    timesS: clip.timesS,
    truthV: clip.truthV,
    markAt,
    pivot: clip.place(0, 0, 0),
    divisionPx: (value) => apart(markAt(value), markAt(value + 1)),
  };
}

function sourceOf(film: {
  readonly width: number;
  readonly height: number;
  readonly timesS: readonly number[];
  readonly pictures: readonly Uint8Array[];
}): FrameSource {
  const { width, height, timesS, pictures } = film;
  return {
    width,
    height,
    rotationDeg: 0,
    durationS: timesS.at(-1)!,
    frameCount: timesS.length,
    async *frames(area) {
      const cut = area ?? { x: 0, y: 0, width, height };
      for (const [index, timeS] of timesS.entries()) {
        const whole = pictures[index]!;
        const luma = new Uint8Array(cut.width * cut.height);
        for (let row = 0; row < cut.height; row++) {
          const from = (cut.y + row) * width + cut.x;
          luma.set(whole.subarray(from, from + cut.width), row * cut.width);
        }
        yield { timeS, width: cut.width, height: cut.height, stride: cut.width, luma };
      }
    },
  };
}

function apart(first: { x: number; y: number }, second: { x: number; y: number }): number {
  return Math.hypot(first.x - second.x, first.y - second.y);
}

/** The marks that a person may click: volts that every dial here has printed. */
export const MARK_SETS: readonly (readonly number[])[] = [
  [0, 5, 10, 15, 20, 25, FULL_SCALE_V],
  [0, 10, 20, FULL_SCALE_V],
  [5, 15, 25],
  [20, 25, FULL_SCALE_V],
  [0, FULL_SCALE_V],
];
