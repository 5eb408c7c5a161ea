import { describe, expect, it } from "vitest";
import { depthSoFar } from "../../../src/core/live/depth-so-far.js";

/** Ten blocks a second, at 0.05 s and on; `wave` is added to the level less the dips. */
function blocksOf(durationS: number, depthV: (t: number) => number, wave: (i: number) => number = () => 0) {
  const timesS = Array.from({ length: 10 * durationS }, (_, i) => i / 10 + 0.05);
  return { timesS, meansV: timesS.map((t, i) => 24 - depthV(t) + wave(i)) };
}
const on = (onsetS: number, releaseS: number, depthV: number) => (t: number) =>
  t >= onsetS && t < releaseS ? depthV : 0;

describe("depthSoFar()", () => {
  it("is the level beside an on-time less the level within, and sure where nothing scatters", () => {
    const blocks = blocksOf(30, on(10, 15, 0.25));
    const { value, u } = depthSoFar(blocks, [{ onsetS: 10, releaseS: 15 }])!;
    expect(value).toBeCloseTo(0.25, 12);
    expect(u).toBeCloseTo(0, 9);
  });

  it("keeps half a second clear of every switching, a quarter before the release", () => {
    // Wrong readings within these margins change nothing; half a block further in they do.
    const at = (wrongS: number) => {
      const blocks = blocksOf(30, on(10, 15, 0.25), (i) => (Math.abs(i / 10 + 0.05 - wrongS) < 0.01 ? 5 : 0));
      return depthSoFar(blocks, [{ onsetS: 10, releaseS: 15 }])!.value;
    };
    for (const wrongS of [9.55, 9.95, 10.05, 10.45, 14.75, 14.95, 15.05, 15.45])
      expect(at(wrongS), `${wrongS}`).toBeCloseTo(0.25, 9);
    for (const wrongS of [9.45, 10.55, 14.65, 15.55])
      expect(Math.abs(at(wrongS) - 0.25), `${wrongS}`).toBeGreaterThan(0.02);
  });

  it("counts a block at the very beginning of a stretch and none at its end", () => {
    // Four blocks a second, so that their times are exact: 4.5 to 9.5 s, 10.5 to 14.75 s, 15.5 to 20.5 s.
    const seen = (wrongS: number) => {
      const timesS = Array.from({ length: 120 }, (_, i) => i / 4);
      const meansV = timesS.map((t) => 24 - on(10, 15, 0.25)(t) + (t === wrongS ? 5 : 0));
      return Math.abs(depthSoFar({ timesS, meansV }, [{ onsetS: 10, releaseS: 15 }])!.value - 0.25) > 0.01;
    };
    for (const wrongS of [4.5, 10.5, 15.5]) expect(seen(wrongS), `${wrongS}`).toBe(true);
    for (const wrongS of [9.5, 14.75, 20.5]) expect(seen(wrongS), `${wrongS}`).toBe(false);
  });

  it("looks as far on either side as the load was on, at least 2 s and at most 10 s", () => {
    const seen = (onsetS: number, releaseS: number, wrongS: number) => {
      const blocks = blocksOf(60, on(onsetS, releaseS, 0.25), (i) => (Math.abs(i / 10 + 0.05 - wrongS) < 0.01 ? 5 : 0));
      return Math.abs(depthSoFar(blocks, [{ onsetS, releaseS }])!.value - 0.25) > 0.01;
    };
    // On for 5 s: from 5 s to half a second before, and likewise after.
    expect(seen(20, 25, 14.55)).toBe(true);
    expect(seen(20, 25, 14.45)).toBe(false);
    expect(seen(20, 25, 30.45)).toBe(true);
    expect(seen(20, 25, 30.55)).toBe(false);
    // On for 1 s: 2 s beside it.
    expect(seen(20, 21, 17.55)).toBe(true);
    expect(seen(20, 21, 17.45)).toBe(false);
    // On for 20 s: 10 s beside it and 10 s within.
    expect(seen(20, 40, 9.55)).toBe(true);
    expect(seen(20, 40, 9.45)).toBe(false);
    expect(seen(20, 40, 30.45)).toBe(true);
    expect(seen(20, 40, 30.55)).toBe(false);
    expect(seen(20, 40, 50.45)).toBe(true);
    expect(seen(20, 40, 50.55)).toBe(false);
  });

  it("is nothing yet with fewer than two blocks before the onset or within", () => {
    const blocks = blocksOf(30, on(0.65, 5, 0.25));
    // From 0.05 s to 0.15 s before: two blocks with an onset at 0.7 s, one at 0.6 s.
    expect(depthSoFar(blocks, [{ onsetS: 0.7, releaseS: 5 }])).not.toBeNull();
    expect(depthSoFar(blocks, [{ onsetS: 0.6, releaseS: 5 }])).toBeNull();
    const short = (releaseS: number) => depthSoFar(blocksOf(30, on(10, releaseS, 1)), [{ onsetS: 10, releaseS }]);
    // Within: from 10.5 s to a quarter before the release.
    expect(short(10.95)).not.toBeNull();
    expect(short(10.85)).toBeNull();
    expect(depthSoFar(blocks, [])).toBeNull();
  });

  it("needs no readings after the release", () => {
    const blocks = blocksOf(15, on(10, 15, 0.25));
    expect(depthSoFar(blocks, [{ onsetS: 10, releaseS: 15 }])!.value).toBeCloseTo(0.25, 9);
  });

  it("is the mean of several switchings; with three their scatter counts too", () => {
    const onTimes = [10, 30, 50].map((onsetS) => ({ onsetS, releaseS: onsetS + 5 }));
    const depths = [0.2, 0.3, 0.25];
    const blocks = blocksOf(70, (t) =>
      onTimes.reduce((v, one, k) => v + on(one.onsetS, one.releaseS, depths[k]!)(t), 0),
    );
    const { value, u } = depthSoFar(blocks, onTimes)!;
    expect(value).toBeCloseTo(0.25, 12);
    // Standard deviation 0.05, over root three.
    expect(u).toBeCloseTo(0.05 / Math.sqrt(3), 9);
    expect(depthSoFar(blocks, onTimes.slice(0, 2))!.u).toBeCloseTo(0, 9);
  });

  it("takes the scatter of white blocks as it is: s sqrt(1/n_on + 1/n_off)", () => {
    // 10 mV above and below in turn: neighbours anticorrelate, which narrows nothing. Before and after 50 blocks each, within 42.
    const blocks = blocksOf(30, on(10, 15, 0.25), (i) => (i % 2 === 0 ? 0.01 : -0.01));
    const { u } = depthSoFar(blocks, [{ onsetS: 10, releaseS: 15 }])!;
    // Squares of 1e-4 each; one degree of freedom goes for each of three stretches.
    expect(u).toBeCloseTo(Math.sqrt(((142 * 1e-4) / (142 - 3)) * (1 / 42 + 1 / 100)), 9);
  });

  it("widens for correlated neighbours by (1 + r) / (1 - r), and averages over the switchings", () => {
    // Two up, two down: neighbours agree half of the time, so that r is near 0; four and four: near 1/2.
    const wave = (period: number) => (i: number) => (Math.floor(i / period) % 2 === 0 ? 0.01 : -0.01);
    const u = (period: number, onTimes = [{ onsetS: 10, releaseS: 15 }]) =>
      depthSoFar(
        blocksOf(60, () => 0, wave(period)),
        onTimes,
      )!.u;
    // By hand from the blocks that are looked at: an independent account of the same rule.
    const parts = [
      [45, 95],
      [105, 147],
      [155, 205],
    ].map(([from, to]) => Array.from({ length: to! - from! }, (_, k) => wave(4)(from! + k)));
    const spread = parts.flatMap((part) => {
      const mean = part.reduce((a, b) => a + b, 0) / part.length;
      return part.map((v) => v - mean);
    });
    const variance = spread.reduce((sum, v) => sum + v * v, 0) / (spread.length - 3);
    let products = 0;
    for (let i = 1; i < spread.length; i++) products += spread[i]! * spread[i - 1]!;
    const r = products / (variance * spread.length);
    expect(r).toBeGreaterThan(0.4);
    expect(u(4)).toBeCloseTo(Math.sqrt(((variance * (1 + r)) / (1 - r)) * (1 / 42 + 1 / 100)), 9);
    const two = [
      { onsetS: 10, releaseS: 15 },
      { onsetS: 34, releaseS: 39 },
    ];
    // 24 s are 30 periods of eight blocks: the same look twice.
    expect(u(4, two)).toBeCloseTo(u(4) / Math.SQRT2, 9);
  });

  it("never widens beyond a correlation of nine tenths", () => {
    const blocks = blocksOf(
      60,
      () => 0,
      (i) => 0.001 * i,
    );
    const { u } = depthSoFar(blocks, [{ onsetS: 20, releaseS: 30 }])!;
    // Three stretches of 100, 92 and 100 blocks of a line: variance (n^2 - 1) / 12 each.
    const squares = [100, 92, 100].reduce((sum, n) => sum + (n * (n * n - 1)) / 12, 0) * 1e-6;
    expect(u).toBeCloseTo(Math.sqrt((squares / (292 - 3)) * 19 * (1 / 92 + 1 / 200)), 9);
  });
});
