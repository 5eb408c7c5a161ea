import { describe, expect, it } from "vitest";
import { dipsInPieces } from "../../../src/core/detection/dips-in-pieces.js";

const train = (depthV: number, ...times: readonly (readonly [number, number])[]) => ({
  onTimes: times.map(([onsetS, releaseS]) => ({ onsetS, releaseS })),
  score: 9,
  pValue: 1e-9,
  depthV,
});

/** A level at 10 Hz with a plain step down at 100 s. */
const timesS = Float64Array.from({ length: 6000 }, (_, i) => i / 10);
const stepped = { timesS, voltagesV: timesS.map((t) => (t < 100 ? 24 : 23.8)) };
const flat = { timesS, voltagesV: timesS.map(() => 24) };

describe("dipsInPieces()", () => {
  it("says nothing against trains that stand apart, nor against a deep one beside a faint remnant", () => {
    const apart = [train(0.1, [10, 15], [20, 25]), train(0.2, [40, 45], [50, 55])];
    expect(dipsInPieces(flat, apart)).toEqual([false, false]);
    expect(dipsInPieces(flat, [train(0.3, [10, 15], [20, 25]), train(0.05, [14, 19])])).toEqual([false, true]);
  });

  it("finds a train whose own dips touch, and doubts every shallower one", () => {
    const long = train(0.31, [99, 110], [110.2, 124], [124.1, 136.5]);
    expect(dipsInPieces(flat, [long, train(0.05, [300, 310]), train(0.9, [400, 410])])).toEqual([true, true, false]);
  });

  it("finds two trains of like depth that lie over each other", () => {
    expect(dipsInPieces(flat, [train(0.2, [10, 20]), train(0.15, [18, 28]), train(0.4, [60, 65])])).toEqual([
      true,
      true,
      false,
    ]);
  });

  it("finds a train whose dips the voltage does not come back from, by half of its dips", () => {
    const twice = [99, 105] as const;
    expect(dipsInPieces(stepped, [train(0.2, twice)])).toEqual([true]);
    expect(dipsInPieces(stepped, [train(0.2, [40, 46], twice)])).toEqual([true]);
    expect(dipsInPieces(stepped, [train(0.2, [40, 46], [60, 66], twice)])).toEqual([false]);
    expect(dipsInPieces(stepped, [train(0.5, twice)])).toEqual([false]);
  });
});
