import { describe, expect, it } from "vitest";
import type { MarkedDetection } from "../../../src/core/detection/marked-detection.js";
import type { MarkedResponse } from "../../../src/core/detection/marked-response.js";
import { ReadingsDesign } from "../../../src/core/detection/readings-design.js";
import { rhythmGoesOn } from "../../../src/core/detection/rhythm-beyond.js";
import { dipTemplate, type OnTime, plainShape } from "../../../src/core/detection/switching-template.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const noise = { whiteV: 0.01, colouredV: 1e-6, colouredTimeS: 1, walkVPerSqrtS: 1e-6, bendVPerS15: 1e-6 };
const shape = plainShape(0.3);
const beats = (...onsets: number[]): OnTime[] => onsets.map((onsetS) => ({ onsetS, releaseS: onsetS + 4 }));

/** A check marked at `marked`, in readings of `lengthS` with dips of 0.2 V there and of the told depths elsewhere. */
function goesOn(
  marked: readonly OnTime[],
  elsewhere: readonly (readonly [OnTime, number])[],
  { lengthS = 100, depthV = 0.2, shiftS = 0, seed = 1 } = {},
): boolean {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 5 * lengthS }, (_, i) => i / 5);
  const valuesV = timesS.map(() => 24 + 0.01 * random.normal());
  const add = (onTime: OnTime, ownV: number) =>
    dipTemplate(timesS, 0, [onTime], { ...shape, shiftS }).forEach((v, i) => {
      valuesV[i]! += ownV * v;
    });
  for (const onTime of marked) add(onTime, depthV);
  for (const [onTime, ownV] of elsewhere) add(onTime, ownV);
  const design = new ReadingsDesign({
    timesS,
    valuesV,
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: 0.01,
    medianIntervalS: 0.2,
  });
  const response = {
    onTimes: marked,
    refined: null,
    shape: { ...shape, shiftS },
    template: dipTemplate(timesS, 0, marked, { ...shape, shiftS }),
  } as unknown as MarkedResponse;
  return rhythmGoesOn({ design, fit: { noise }, responses: [response] } as unknown as MarkedDetection, response);
}
const around = (depthV: number, ...onsets: number[]) => beats(...onsets).map((onTime) => [onTime, depthV] as const);
const even = beats(40, 50, 60);

describe("rhythmGoesOn()", () => {
  it("is so where two places before and two after the switchings dip as the load does", () => {
    expect(goesOn(even, around(0.2, 20, 30, 70, 80))).toBe(true);
    expect(goesOn(even, [])).toBe(false);
    // Their mean counts: more than half of the load's, which is 0.1 V.
    expect(goesOn(even, around(0.12, 20, 30, 70, 80))).toBe(true);
    expect(goesOn(even, around(0.08, 20, 30, 70, 80))).toBe(false);
    expect(goesOn(even, [...around(0.2, 20, 30, 70), ...around(0.0, 80)])).toBe(true);
    // A third place tells nothing.
    expect(goesOn(even, around(0.2, 10, 90))).toBe(false);
    expect(goesOn(even, around(-0.2, 20, 30, 70, 80))).toBe(false);
  });

  it("moves with the shift of the marks", () => {
    expect(goesOn(even, around(0.2, 20, 30, 70, 80), { shiftS: 1.5 })).toBe(true);
  });

  it("looks only where readings are", () => {
    // Places before the first reading, or that end after the last, are none.
    expect(goesOn(beats(4, 14, 24), around(0.2, 34, 44), { lengthS: 60 })).toBe(true);
    expect(goesOn(beats(4, 14, 24), around(0.2, 34), { lengthS: 42 })).toBe(true);
    expect(goesOn(beats(4, 14, 24), [], { lengthS: 34 })).toBe(false);
    expect(goesOn(beats(14, 24, 34), around(0.2, 4), { lengthS: 44 })).toBe(true);
  });

  it("is none of an uneven rhythm: one onset a third of the time on off, nor of a single switching", () => {
    const askew = (byS: number) => goesOn(beats(40, 50 + byS, 60), around(0.2, 20, 30, 70, 80));
    expect([askew(1.25), askew(-1.25)]).toEqual([true, true]);
    expect([askew(1.4), askew(-1.4)]).toEqual([false, false]);
    expect(goesOn(beats(40), around(0.2, 20, 30, 50, 60))).toBe(false);
  });

  it("is said of faint dips only where they are more than 2.33 of their uncertainty", () => {
    // Four dips of 80 readings in 500: u about 0.01 / sqrt(80 x 0.84) = 1.2 mV, so that 1 mV is told in few and 5 mV in most.
    const share = (depthV: number) =>
      Array.from({ length: 40 }, (_, k) =>
        goesOn(even, around(depthV, 20, 30, 70, 80), { depthV: 0.0005, seed: k + 1 }),
      ).filter(Boolean).length / 40;
    // Of nothing 1 % by chance: three of 40 or more in 1 of 130.
    expect(share(0)).toBeLessThan(0.1);
    expect(share(0.006)).toBeGreaterThan(0.8);
  });
});
