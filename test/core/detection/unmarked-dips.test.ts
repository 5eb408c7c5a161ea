import { describe, expect, it } from "vitest";
import type { FoundTrain } from "../../../src/core/detection/search.js";
import { deepestBesideV } from "../../../src/core/detection/unmarked-dips.js";

const trainOf = (depthV: number, ...onTimes: readonly (readonly [number, number])[]) =>
  ({ depthV, onTimes: onTimes.map(([onsetS, releaseS]) => ({ onsetS, releaseS })) }) as unknown as FoundTrain;
const own = [
  { onsetS: 10, releaseS: 15 },
  { onsetS: 20, releaseS: 25 },
];

describe("deepestBesideV()", () => {
  it("is the depth of the deepest train of which some dip is not the load's own", () => {
    const trains = [trainOf(0.02, [40, 45]), trainOf(0.05, [10.9, 15.9], [30, 35]), trainOf(0.04, [10, 16.1])];
    expect(deepestBesideV({ trains, deepestV: 0.05 }, own)).toBe(0.05);
    expect(deepestBesideV({ trains: trains.slice(2), deepestV: 0.04 }, own)).toBe(0.04);
  });

  it("is nothing where the load's own dips are all that was found", () => {
    const trains = [trainOf(0.05, [10.9, 14.1], [20, 25.9])];
    expect(deepestBesideV({ trains, deepestV: 0.05 }, own)).toBe(0);
    expect(deepestBesideV({ trains: [], deepestV: 0 }, own)).toBe(0);
  });
});
