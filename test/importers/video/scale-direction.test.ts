import { describe, expect, it } from "vitest";
import { filmFacts } from "../../../src/importers/video/film-facts.js";
import { type DialHints, findDial, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { powerUpDirection, scaleDirection } from "../../../src/importers/video/scale-direction.js";
import { renderedClip } from "./render/clip.js";
import type { DialStyle } from "./render/face.js";
import { EVEN, errorsOf, hand } from "./render/readings.js";

describe("scaleDirection()", () => {
  const meter = { fullScaleV: 30 };
  const battery = { chemistry: "lead-acid", cells: 12 } as const;

  it("is the profile's, whatever else there is", () => {
    const told = scaleDirection(24, { ...meter, scaleRises: "anticlockwise" }, battery, "clockwise");
    expect(told).toEqual({ rises: "anticlockwise", by: "profile" });
  });

  it("is away from the needle's rest, unless the battery cannot have the voltage then", () => {
    expect(scaleDirection(24, meter, undefined, "clockwise")).toEqual({ rises: "clockwise", by: "power-up" });
    expect(scaleDirection(6, meter, battery, "anticlockwise")).toEqual({ rises: "anticlockwise", by: "power-up" });
    expect(scaleDirection(6, meter, battery, "clockwise")).toBeNull();
    expect(scaleDirection(24, meter, battery, "anticlockwise")).toBeNull();
  });

  it("is clockwise by the battery alone where only that fits, and nobody's otherwise", () => {
    expect(scaleDirection(24, meter, battery, null)).toEqual({ rises: "clockwise", by: "battery" });
    // 6 V the other way round fits a scale that rises anticlockwise, or a clockwise one of another bus.
    for (const clockwiseV of [6, 15, 0.5, 29.5]) expect(scaleDirection(clockwiseV, meter, battery, null)).toBeNull();
    // Two alike: 24 V of a scale from 18 to 32 V would be 26 V the other way round, which the battery can have too.
    expect(scaleDirection(24, { fullScaleV: 32, zeroV: 18 }, battery, null)).toBeNull();
    expect(scaleDirection(24, meter, undefined, null)).toBeNull();
  });
});

describe("powerUpDirection()", () => {
  it.each([
    [0, 0.8, "clockwise"],
    [-0.04, 0.43, "clockwise"],
    [1, 0.2, "anticlockwise"],
    [1.05, 0.57, "anticlockwise"],
  ])("from %d to %d of the scale is %s", (before, now, direction) => {
    expect(powerUpDirection(before, now)).toBe(direction);
  });

  it.each([
    ["a bus whose charger is taken off", 0.98, 0.83],
    ["a needle that was not at rest", 0.2, 0.8],
    ["a needle that did not move", 0, 0],
    ["a swing from end to end", 0, 1],
    ["a needle far outside the scale", -0.3, 0.8],
  ])("tells nothing of %s", (_, before, now) => {
    expect(powerUpDirection(before, now)).toBeNull();
  });
});

describe("findDial() of a film that begins before the bus has power", () => {
  const anticlockwise: DialStyle = { ...EVEN, startDeg: 45, sweepDeg: -90 };
  const hints: DialHints = { meter: { fullScaleV: 30, smallestDivisionV: 1 } };
  const filmed = (style: DialStyle, fromV: number) =>
    renderedClip(style, {
      ...hand,
      shakePx: 1,
      frameCount: 36,
      framesPerS: 5,
      volts: (timeS) => (timeS < 2.5 ? fromV : timeS > 6 && timeS < 6.7 ? 24.1 : 24.6),
    });

  it.each([
    ["clockwise", EVEN],
    ["anticlockwise", anticlockwise],
  ] as const)("reads a scale that rises %s, from rest to dip", async (rises, style) => {
    const clip = filmed(style, 0);
    const dial = await findDial(clip, hints);
    if (dial.kind === "question") throw new Error(dial.instruction);
    expect(dial.directionBy).toBe("power-up");
    const reading = await readNeedle(clip, dial);
    expect(filmFacts("a decoder", reading).join("\n")).toContain(
      `rising ${rises} since the needle rested at the other end before the bus had power`,
    );
    expect(reading.timesS.length).toBeGreaterThan(30);
    // Frames in which the needle jumps aside, all within a fifth of a volt: the wrong way round they are 20 V off.
    const errors = errorsOf(clip, reading)
      .map(Math.abs)
      .sort((a, b) => a - b);
    expect(errors[Math.floor(0.9 * errors.length)]).toBeLessThan(0.2);
    expect(errors.at(-1)).toBeLessThan(1);
  });

  it("asks where the needle stood near full scale and not at rest", async () => {
    expect(await findDial(filmed(EVEN, 29.6), hints)).toMatchObject({ kind: "question", code: "no-direction" });
  });
});
