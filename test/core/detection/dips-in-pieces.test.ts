import { describe, expect, it } from "vitest";
import { dipsInPieces as inPieces } from "../../../src/core/detection/dips-in-pieces.js";

const train = (depthV: number, ...times: readonly (readonly [number, number])[]) => ({
  onTimes: times.map(([onsetS, releaseS]) => ({ onsetS, releaseS })),
  depthV,
});

/** A level at 10 Hz with a plain step down at 100 s. */
const timesS = Float64Array.from({ length: 6000 }, (_, i) => i / 10);
const stepped = { timesS, voltagesV: timesS.map((t) => (t < 100 ? 24 : 23.8)) };
const flat = { timesS, voltagesV: timesS.map(() => 24) };

const still = { colouredV: 0, walkVPerSqrtS: 0 };
const dipsInPieces = (recording: typeof flat, trains: Parameters<typeof inPieces>[1], wander = still) =>
  inPieces(recording, trains, wander);

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

  it("takes off the drift of a level that relaxes", () => {
    // 3.6 mV/s at 20 s, 2 mV/s at 55 s: 36 to 20 mV from before a dip to after it, whose depth is 30 mV.
    const dips = train(0.03, [20, 25], [33, 38], [46, 51]);
    const course = (depthV: number, stepS: number) => ({
      timesS,
      voltagesV: timesS.map((t) => {
        const on = dips.onTimes.some(({ onsetS, releaseS }) => t >= onsetS && t < releaseS);
        return 24 + 0.3 * Math.exp(-t / 60) - (on ? depthV : 0) - (t >= stepS ? 0.03 : 0);
      }),
    });
    expect(dipsInPieces(course(0.03, Number.POSITIVE_INFINITY), [dips])).toEqual([false]);
    // Of a level that steps as much while it relaxes, one dip of three tells nothing and the only one everything.
    expect(dipsInPieces(course(0, 35), [dips])).toEqual([false]);
    expect(dipsInPieces(course(0, 35), [train(0.03, [33, 38])])).toEqual([true]);
    // Of readings too few to tell a drift none is taken off.
    const few = Float64Array.of(29.5, 31, 35, 40, 41);
    const falls = { timesS: few, voltagesV: few.map((t) => 24 - 0.003 * t) };
    expect(dipsInPieces(falls, [train(0.03, [33, 38])])).toEqual([true]);
  });

  it("takes a step for one only where wander and noise do not make as much", () => {
    // From the middle of 3 s before the dip to that of 3 s after it: 11 s. A walk of 20 mV a root second makes 66 mV in them.
    const twice = [train(0.2, [99, 105])];
    for (const [walkVPerSqrtS, isStep] of [
      [0.02, true],
      [0.0231, true],
      [0.0233, false],
    ] as const) {
      expect(dipsInPieces(stepped, twice, { colouredV: 0, walkVPerSqrtS })).toEqual([isStep]);
    }
    // Coloured noise on both levels: 0.2 V over 2.6 and the root of two.
    expect(dipsInPieces(stepped, twice, { ...still, colouredV: 0.0542 })).toEqual([true]);
    expect(dipsInPieces(stepped, twice, { ...still, colouredV: 0.0546 })).toEqual([false]);
    // Readings 1 V to either side in turn: quartiles 2 V apart, 1.48 V of scatter, 0.34 V of the median of 30.
    const rough = { timesS, voltagesV: stepped.voltagesV.map((v, i) => v + (i % 2 === 0 ? 1 : -1)) };
    expect(dipsInPieces(rough, twice)).toEqual([false]);
    const faint = { timesS, voltagesV: stepped.voltagesV.map((v, i) => v + (i % 2 === 0 ? 0.02 : -0.02)) };
    expect(dipsInPieces(faint, twice)).toEqual([true]);
  });

  it("takes a pause of less than a tenth of the shorter on-time for none", () => {
    const pause = (gapS: number, secondS = 10) =>
      dipsInPieces(flat, [train(0.2, [100, 110], [110 + gapS, 110 + gapS + secondS])])[0];
    expect(pause(0.9)).toBe(true);
    expect(pause(1.1)).toBe(false);
    expect(pause(0.9, 5)).toBe(false);
    expect(pause(0.4, 5)).toBe(true);
  });

  it("takes a train of less than half the depth for a remnant", () => {
    const beside = (depthV: number) => dipsInPieces(flat, [train(0.2, [10, 20]), train(depthV, [18, 28])]);
    expect(beside(0.1)).toEqual([true, true]);
    // The faint one touches a deeper one, and is doubted; the deep one is not.
    expect(beside(0.09)).toEqual([false, true]);
  });

  it("a step of eight tenths of the depth is one, from the level a second beside the dip over three more", () => {
    expect(dipsInPieces(stepped, [train(0.24, [99, 105])])).toEqual([true]);
    expect(dipsInPieces(stepped, [train(0.26, [99, 105])])).toEqual([false]);
    const blip = (fromS: number, toS: number) => ({
      timesS,
      voltagesV: timesS.map((t) => (t >= fromS && t < toS ? 23 : 24)),
    });
    const dip = train(0.5, [99, 105]);
    // Readings of the second beside the dip do not count, those of the three beyond do, and none farther off.
    expect(dipsInPieces(blip(98, 99), [dip])).toEqual([false]);
    expect(dipsInPieces(blip(95, 98), [dip])).toEqual([true]);
    expect(dipsInPieces(blip(90, 95), [dip])).toEqual([false]);
    expect(dipsInPieces(blip(105, 106), [dip])).toEqual([false]);
    expect(dipsInPieces(blip(106, 109), [dip])).toEqual([true]);
    expect(dipsInPieces(blip(109, 115), [dip])).toEqual([false]);
  });

  it("does not take a neighbouring dip for a level, and says nothing of a dip without room on both sides", () => {
    const next = train(0.5, [99, 105], [109, 115]);
    const down = { timesS, voltagesV: timesS.map((t) => (t >= 108 && t < 115 ? 23 : 24)) };
    expect(dipsInPieces(down, [next])).toEqual([false]);
    // 1.9 s between two dips leave no level between them; steps beside it are then not told.
    const near = train(0.2, [92, 98.1], [100, 106]);
    expect(dipsInPieces(stepped, [near])).toEqual([false]);
    const edge = { timesS: timesS.slice(0, 1000), voltagesV: timesS.slice(0, 1000).map((t) => (t < 97 ? 24 : 23)) };
    expect(dipsInPieces(edge, [train(0.5, [97, 99.5])])).toEqual([false]);
    expect(dipsInPieces(flat, [])).toEqual([]);
  });
});
