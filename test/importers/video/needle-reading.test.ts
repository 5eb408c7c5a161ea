import { describe, expect, it } from "vitest";
import { findDial, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { renderedClip } from "./render/clip.js";
import { type DialStyle, trueAngle } from "./render/face.js";
import { EVEN, errorsOf, found, hand, marksOf } from "./render/readings.js";

const STYLES: readonly [string, DialStyle, readonly number[]][] = [
  ["90 degrees, dark on light", EVEN, [0, 10, 20, 30]],
  [
    "300 degrees, light on dark, hand shape",
    { ...EVEN, startDeg: -150, sweepDeg: 300, lightOnDark: true, needle: "hand", tail: 0.2 },
    [0, 10, 20, 30],
  ],
  ["60 degrees, rising anticlockwise, bar", { ...EVEN, startDeg: 30, sweepDeg: -60, needle: "bar" }, [0, 10, 20, 30]],
  [
    "uneven scale, 100 degrees",
    { ...EVEN, startDeg: -50, sweepDeg: 100, law: (part) => part ** 1.4 },
    [0, 5, 10, 15, 20, 25, 30],
  ],
];

describe("readNeedle", () => {
  for (const [name, style, volts] of STYLES) {
    it(`reads a hand-held clip within its stated uncertainty: ${name}`, async () => {
      const middle = Math.abs(style.sweepDeg) > 180 ? { pivotX: 210, pivotY: 170, radiusPx: 110 } : {};
      const clip = renderedClip(style, { ...hand, ...middle });
      const reading = await readNeedle(clip, await found(clip, volts));
      expect(reading.timesS.length).toBe(40);
      const errors = errorsOf(clip, reading);
      const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length;
      expect(Math.abs(mean)).toBeLessThan(2.6 * reading.offsetUncertaintyV);
      const outside = errors.filter((error, at) => Math.abs(error - mean) > 1.96 * reading.readingUncertaintiesV[at]!);
      // Of 40 readings at 95 %, seven or more lie outside with a chance of 0.3 %.
      expect(outside.length).toBeLessThanOrEqual(6);
    });
  }

  it("leaves a gap where a hand covers the dial and reads on afterwards", async () => {
    const clip = renderedClip(EVEN, {
      ...hand,
      spoil: (values, frame, { width }) => {
        if (frame < 15 || frame >= 25) return;
        for (let at = 0; at < values.length; at++) if (at % width > 60) values[at] = 120 + 8 * Math.sin(at / 37);
      },
    });
    const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
    const covered = [...reading.timesS].filter((timeS) => timeS > 14.5 / 30 && timeS < 24.5 / 30);
    expect(covered).toEqual([]);
    expect(reading.timesS.length).toBeGreaterThanOrEqual(28);
    expect(reading.gaps.some((gap) => gap.startS < 15 / 30 && gap.endS > 24 / 30)).toBe(true);
  });

  it("leaves a gap where the needle alone is out of sight", async () => {
    const clip = renderedClip(EVEN, { ...hand, needleHidden: (frame) => frame >= 10 && frame < 20 });
    const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
    expect([...reading.timesS].filter((timeS) => timeS > 9.5 / 30 && timeS < 19.5 / 30)).toEqual([]);
    const hidden = reading.gaps.find((gap) => gap.startS < 10 / 30 && gap.endS > 19 / 30);
    expect(hidden?.fault).toBe("needle-hidden");
  });

  it("reads within its stated uncertainty, or not at all, while a mirror's glare wanders over the needle", async () => {
    const clip = renderedClip(EVEN, {
      ...hand,
      spoil: (values, frame, { width, pivotX, pivotY }) => {
        if (frame < 10 || frame >= 30) return;
        const [x0, y0] = [pivotX - 20 + 5 * (frame - 10), pivotY - 90 + 0.8 * frame];
        for (let at = 0; at < values.length; at++) {
          const square = ((at % width) - x0) ** 2 + (Math.floor(at / width) - y0) ** 2;
          values[at]! += 260 * Math.exp(-square / (2 * 16 ** 2));
        }
      },
    });
    const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
    const errors = errorsOf(clip, reading);
    const mean = errors.reduce((sum, error) => sum + error, 0) / errors.length;
    expect(reading.timesS.length).toBeGreaterThanOrEqual(20);
    const outside = errors.filter((error, at) => Math.abs(error - mean) > 1.96 * reading.readingUncertaintiesV[at]!);
    expect(outside.length).toBeLessThanOrEqual(6);
    const worst = Math.max(...errors.map((error, at) => Math.abs(error - mean) / reading.readingUncertaintiesV[at]!));
    expect(worst).toBeLessThan(4.5);
  });

  it("reads the needle and not a second one that stands beside it, or asks which", async () => {
    const second = trueAngle(EVEN, 8);
    const clip = renderedClip(EVEN, {
      ...hand,
      shakePx: 0,
      shakeRollDeg: 0,
      shakeScale: 0,
      spoil: (values, _, { width, pivotX, pivotY, radiusPx }) => {
        for (let at = 0; at < values.length; at++) {
          const [x, y] = [(at % width) - pivotX, Math.floor(at / width) - pivotY];
          const along = (x * Math.sin(second) - y * Math.cos(second)) / radiusPx;
          const across = x * Math.cos(second) + y * Math.sin(second);
          if (along > 0.25 && along < 0.9 && Math.abs(across) < 1.6) values[at] = 40;
        }
      },
    });
    const dial = { still: { timeS: 0, width: clip.width, height: clip.height }, pivot: clip.place(0, 0, 0) };
    const answer = await findDial(clip, { dial: { ...dial, marks: marksOf(clip, [0, 10, 20, 30]) } });
    if (answer.kind === "question") {
      expect(answer.code).toBe("second-pointer");
      return;
    }
    const errors = errorsOf(clip, await readNeedle(clip, answer));
    expect(Math.max(...errors.map(Math.abs))).toBeLessThan(0.15);
  });

  it("gives no wrong reading while the needle sweeps at power-up", async () => {
    const clip = renderedClip(EVEN, {
      ...hand,
      volts: (timeS) => (timeS < 0.3 ? 0.5 : Math.min(24, 0.5 + (timeS - 0.3) * 60)),
    });
    const reading = await readNeedle(clip, await found(clip, [0, 10, 20, 30]));
    const errors = errorsOf(clip, reading);
    expect(reading.timesS.length).toBeGreaterThanOrEqual(30);
    expect(Math.max(...errors.map(Math.abs))).toBeLessThan(0.25);
  });
});

describe("findDial", () => {
  it.each([0.1, 0.3, 0.6, 1, 2])("is not misled by a needle that turns by %f V beside the still", async (dipV) => {
    for (const needle of ["taper", "bar"] as const) {
      const clip = renderedClip(
        { ...EVEN, needle },
        { ...hand, volts: (timeS) => (timeS < 0.11 ? 24.6 : 24.6 - dipV) },
      );
      const dial = await found(clip, [0, 10, 20, 30]);
      const reading = await readNeedle(clip, dial);
      const errors = errorsOf(clip, reading);
      expect(errors.length).toBeGreaterThanOrEqual(38);
      const offsetV = errors.reduce((sum, error) => sum + error, 0) / errors.length;
      expect(Math.abs(offsetV)).toBeLessThan(2.5 * reading.offsetUncertaintyV);
      expect(Math.max(...errors.map((error) => Math.abs(error - offsetV)))).toBeLessThan(0.05);
    }
  });

  it("takes no part of a scale for the whole of it, where a stroke is hidden", async () => {
    // Of 31 strokes the seventeenth: 16 are left below it, which would make a usual division of 2 V.
    const hidden = trueAngle(EVEN, 16);
    const { width, pivotX, pivotY, radiusPx, ...filming } = hand;
    const [x0, y0] = [pivotX + 1.04 * radiusPx * Math.sin(hidden), pivotY - 1.04 * radiusPx * Math.cos(hidden)];
    const clip = renderedClip(EVEN, {
      ...filming,
      ...{ width, pivotX, pivotY, radiusPx, shakePx: 0, shakeRollDeg: 0, shakeScale: 0 },
      spoil: (values) => {
        for (let at = 0; at < values.length; at++) {
          const [x, y] = [(at % width) - x0, Math.floor(at / width) - y0];
          if (
            Math.hypot(x, y) < 0.055 * radiusPx &&
            Math.abs(x * Math.cos(hidden) + y * Math.sin(hidden)) < 0.02 * radiusPx
          )
            values[at] = 200;
        }
      },
    });
    expect(await findDial(clip, { meter: { fullScaleV: 30 } })).toMatchObject({ kind: "question", code: "no-scale" });
    const answer = await findDial(clip, { meter: { fullScaleV: 30, smallestDivisionV: 1, scaleRises: "clockwise" } });
    if (answer.kind === "question") {
      expect(answer.code).toBe("no-scale");
      return;
    }
    const seen = clip.place(0, 1, trueAngle(EVEN, 10));
    expect(answer.curve.voltsAt(Math.atan2(seen.y - answer.pivot.y, seen.x - answer.pivot.x))).toBeCloseTo(10, 0);
  });

  it("finds pivot and needle within 0.3 degrees with no click, and the scale from the profile's full scale", async () => {
    const clip = renderedClip(EVEN, { ...hand, shakePx: 0, shakeRollDeg: 0, shakeScale: 0 });
    const answer = await findDial(clip, { meter: { fullScaleV: 30, smallestDivisionV: 1, scaleRises: "clockwise" } });
    if (answer.kind === "question") throw new Error(answer.instruction);
    const [from, to] = [clip.place(0, 0, 0), clip.place(0, 0.8, trueAngle(EVEN, 24.6))];
    const truth = Math.atan2(to.y - from.y, to.x - from.x);
    const apart = ((answer.needle.angleRad - truth + 5 * Math.PI) % (2 * Math.PI)) - Math.PI;
    expect(Math.abs(apart * 180) / Math.PI).toBeLessThan(0.3);
    expect(answer.curve.voltsAt(answer.needle.angleRad)).toBeCloseTo(24.6, 0);
  });

  it("asks which way the volts rise unless the profile, or its battery at the needle's place, tells", async () => {
    const anticlockwise: DialStyle = { ...EVEN, startDeg: 45, sweepDeg: -90 };
    const meter = { fullScaleV: 30, smallestDivisionV: 1 };
    const battery = { chemistry: "lead-acid", cells: 12 } as const;
    const clipOf = (style: DialStyle, needleV: number) =>
      renderedClip(style, { ...hand, frameCount: 4, shakePx: 0, volts: () => needleV });
    const ask = { kind: "question", code: "no-direction" };
    expect(await findDial(clipOf(EVEN, 24.6), { meter })).toMatchObject(ask);
    // 24.6 V stands where a clockwise scale has 5.4 V, which 12 lead-acid cells cannot have.
    expect(await findDial(clipOf(anticlockwise, 24.6), { meter, battery })).toMatchObject(ask);
    // The other way round these are 15 V and 30 V: the one is as unlikely, the other cannot be while the bus is dead.
    for (const needleV of [15, 0]) expect(await findDial(clipOf(EVEN, needleV), { meter, battery })).toMatchObject(ask);
    for (const [style, hints] of [
      [EVEN, { meter, battery }],
      [anticlockwise, { meter: { ...meter, scaleRises: "anticlockwise" } }],
    ] as const) {
      const answer = await findDial(clipOf(style, 24.6), hints);
      if (answer.kind === "question") throw new Error(answer.instruction);
      expect(Math.abs(answer.curve.voltsAt(answer.needle.angleRad) - 24.6)).toBeLessThan(0.2);
    }
  });

  it("asks for marks in one sentence when nothing tells the scale", async () => {
    const answer = await findDial(renderedClip(EVEN, { ...hand, frameCount: 12 }));
    expect(answer).toMatchObject({ kind: "question", code: "no-scale" });
  });

  it("says that no needle was found on a dial without one", async () => {
    const clip = renderedClip(EVEN, { ...hand, frameCount: 12, needleHidden: () => true });
    const answer = await findDial(clip);
    expect(answer.kind === "question" && ["no-needle", "no-dial"].includes(answer.code)).toBe(true);
  });
});
