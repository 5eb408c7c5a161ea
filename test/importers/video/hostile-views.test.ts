/** What a film may meet beside a shaking hand: the answer is a gap, a question, or a reading within what it states. */
import { describe, expect, it } from "vitest";
import { filmFacts } from "../../../src/importers/video/film-facts.js";
import { type NeedleReading, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { type Filming, type RenderedClip, renderedClip } from "./render/clip.js";
import { type DialStyle, trueAngle } from "./render/face.js";
import { prints, radialPrint } from "./render/prints.js";
import { dialOf, EVEN, errorsOf, found, hand } from "./render/readings.js";

const MARKS = [0, 5, 10, 15, 20, 25, 30];
/** Frames in which something is amiss. */
const [FIRST, LAST] = [12, 27];
const isAmiss = (frame: number) => frame >= FIRST && frame < LAST;

/** Errors about their middle, over the stated standard uncertainty; the offset is held against its own. */
function errorsOverU(clip: RenderedClip, reading: NeedleReading): number[] {
  const errors = errorsOf(clip, reading);
  const middle = [...errors].sort((a, b) => a - b)[errors.length >> 1]!;
  expect(Math.abs(middle)).toBeLessThan(2.6 * reading.offsetUncertaintyV);
  return errors.map((error, at) => Math.abs(error - middle) / reading.readingUncertaintiesV[at]!);
}

/** Of 40 readings at 95 %, seven or more lie outside with a chance of 0.3 %. */
function expectHonest(clip: RenderedClip, reading: NeedleReading): void {
  const beyond = errorsOverU(clip, reading);
  expect(beyond.filter((over) => over > 1.96).length).toBeLessThanOrEqual(6);
  expect(Math.max(...beyond)).toBeLessThan(4);
  const clear = [...reading.timesS].filter((timeS) => !isAmiss(Math.round(timeS * hand.framesPerS)));
  expect(clear.length).toBeGreaterThanOrEqual(40 - (LAST - FIRST) - 3);
}

/** The picture as seen by a camera that was moved and turned about its middle; beyond its edge it goes on as it ends. */
function moved(
  values: Float32Array,
  { width, height }: Filming,
  by: { x?: number; y?: number; turnDeg?: number },
): void {
  const from = values.slice();
  const turn = ((by.turnDeg ?? 0) * Math.PI) / 180;
  const [cos, sin] = [Math.cos(turn), Math.sin(turn)];
  const within = (value: number, end: number) => Math.max(0, Math.min(end - 1.001, value));
  for (let at = 0; at < values.length; at++) {
    const u = (at % width) - (by.x ?? 0) - width / 2;
    const v = Math.floor(at / width) - (by.y ?? 0) - height / 2;
    const x = within(cos * u + sin * v + width / 2, width);
    const y = within(cos * v - sin * u + height / 2, height);
    const left = Math.floor(x);
    const corner = Math.floor(y) * width + left;
    const upper = from[corner]! + (x - left) * (from[corner + 1]! - from[corner]!);
    const lower = from[corner + width]! + (x - left) * (from[corner + width + 1]! - from[corner + width]!);
    values[at] = upper + (y - Math.floor(y)) * (lower - upper);
  }
}

/** A pointer of another hand, from the pivot; its tone is mixed into what is there. */
function pointer(volts: number, tone: number, reach = 0.88): NonNullable<Filming["spoil"]> {
  const angle = trueAngle(EVEN, volts);
  return (values, _, { width, pivotX, pivotY, radiusPx }) => {
    for (let at = 0; at < values.length; at++) {
      const [x, y] = [(at % width) - pivotX, Math.floor(at / width) - pivotY];
      const along = (x * Math.sin(angle) - y * Math.cos(angle)) / radiusPx;
      const across = Math.abs(x * Math.cos(angle) + y * Math.sin(angle));
      if (along > 0.25 && along < reach) values[at]! += Math.max(0, Math.min(1, 2 - across)) * (tone - values[at]!);
    }
  };
}

/** Nothing moves but the needle. */
const tripod: Filming = { ...hand, shakePx: 0, shakeRollDeg: 0, shakeScale: 0, slopeX: 0 };

describe("readNeedle() where the camera or the light is amiss", () => {
  const amiss: readonly [string, (values: Float32Array, frame: number, filming: Filming) => void][] = [
    ["a bump moves the dial by half its radius", (values, _, filming) => moved(values, filming, { x: 64, y: 48 })],
    ["the phone is turned by 20 degrees", (values, _, filming) => moved(values, filming, { turnDeg: 20 })],
    [
      "the dial drifts partly out of the picture",
      (values, frame, filming) =>
        moved(values, filming, { y: -180 * Math.sin((Math.PI * (frame - FIRST)) / (LAST - FIRST)) }),
    ],
    ["the lights are off", (values) => values.fill(17)],
  ];
  it.each(amiss)("reads on or leaves a gap: %s", async (_, change) => {
    const clip = renderedClip(EVEN, {
      ...hand,
      spoil: (values, frame, filming) => {
        if (isAmiss(frame)) change(values, frame, filming);
      },
    });
    expectHonest(clip, await readNeedle(clip, await found(clip, MARKS)));
  });
});

describe("readNeedle() on a round dial without figures, whose strokes look alike", () => {
  const round: DialStyle = { ...EVEN, startDeg: -150, sweepDeg: 300, numbers: false };
  const place = { pivotX: 210, pivotY: 170, radiusPx: 110 };
  it.each([10, -20, 30])("is not a stroke off after a turn by %d degrees within a frame", async (turnDeg) => {
    const clip = renderedClip(round, {
      ...{ ...hand, ...place },
      spoil: (values, frame, filming) => {
        if (isAmiss(frame)) moved(values, filming, { turnDeg, x: 6, y: -4 });
      },
    });
    expectHonest(clip, await readNeedle(clip, await found(clip, MARKS)));
  });
});

describe("a second line on the dial", () => {
  it.each([
    ["as dark as the needle, below it", 23.7, 25],
    ["as dark as the needle, above it", 25.5, 25],
    ["half as dark as the needle", 23.5, 120],
  ])("asks which needle to read: %s", async (_, volts, tone) => {
    const clip = renderedClip(EVEN, { ...tripod, frameCount: 12, spoil: pointer(volts, tone) });
    expect(await dialOf(clip, MARKS)).toMatchObject({ kind: "question", code: "second-pointer" });
  });

  it.each([
    ["dark on a light face", EVEN, 40, [180, 225]],
    ["light on a dark face", { ...EVEN, lightOnDark: true, needle: "bar" } satisfies DialStyle, 200, [25, 70]],
  ] as const)("is covered as the question says, and the needle is read: %s", async (_, style, ink, papers) => {
    const line = radialPrint(style, 17, [0.2, 0.98], ink);
    const asked = await dialOf(renderedClip({ ...style, print: line }, { ...tripod, frameCount: 12 }), MARKS);
    expect(asked.kind === "question" ? asked.instruction : "found").toMatch(/: turn it well away .* cover it /);
    // Paper darker and brighter than the face, wider than the line.
    for (const paper of papers) {
      const strip = radialPrint(style, 17, [0.17, 0.98], paper, 0.06);
      const clip = renderedClip({ ...style, print: prints(strip, line) }, hand);
      expectHonest(clip, await readNeedle(clip, await found(clip, MARKS)));
    }
  });

  it.each([
    ["from frame to frame", 0],
    ["after frames without a needle", 3],
  ])("is not read where it stands while the needle itself is gone: %s", async (_, unseen) => {
    const double = pointer(22, 25);
    const isGone = (frame: number) => frame >= 60 && frame < 90;
    const clip = renderedClip(EVEN, {
      ...{ ...hand, frameCount: 160, shakePx: 1 },
      volts: (timeS) => 24.6 - (timeS > 3.5 && timeS < 4.5 ? 0.3 : 0),
      needleHidden: isGone,
      spoil: (values, frame, filming) => {
        if (isGone(frame - unseen) && isGone(frame + unseen)) double(values, frame, filming);
      },
    });
    const reading = await readNeedle(clip, await found(clip, MARKS));
    const errors = errorsOf(clip, reading);
    expect(Math.max(...errors.map(Math.abs))).toBeLessThan(0.2);
    expect(errors.length).toBeGreaterThanOrEqual(125);
    expect(filmFacts("a decoder", reading).join()).toMatch(/caution: in 2\d frames|caution: in 30 frames/);
  });

  it("doubts what it reads while a pencil lies close beside the needle", async () => {
    const pencil = pointer(20.4, 100);
    const clip = renderedClip(EVEN, {
      ...tripod,
      volts: (timeS) => 24.6 - (isAmiss(Math.round(timeS * hand.framesPerS)) ? 3.6 : 0),
      spoil: (values, frame, filming) => {
        if (isAmiss(frame)) pencil(values, frame, filming);
      },
    });
    expectHonest(clip, await readNeedle(clip, await found(clip, MARKS)));
  });
});
