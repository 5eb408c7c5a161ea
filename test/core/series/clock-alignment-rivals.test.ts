import { describe, expect, it } from "vitest";
import { randomSource } from "../../../samples/simulator/random-source.js";
import { alignClocks } from "../../../src/core/series/clock-alignment.js";
import { coarseOffsets } from "../../../src/core/series/coarse-offset.js";
import { evenGrid, takeLevelOff } from "../../../src/core/series/even-grid.js";
import { robustNoise } from "../../../src/core/statistics/robust-scale.js";

/** Onsets and releases on the current's clock. */
const SWITCHINGS = [
  [20, 25],
  [31, 35],
  [44, 51],
  [56, 60],
] as const;
const isOn = (t: number) => SWITCHINGS.some(([on, off]) => t >= on && t < off);
const current = (() => {
  const timesS = Float64Array.from({ length: 320 }, (_, i) => i / 4);
  // A little unrest, for readings that repeat count as held.
  return { timesS, currentsA: timesS.map((t, i) => (isOn(t) ? 9 : 1) + 0.001 * ((7 * i) % 11)) };
})();

/** A voltage in which the switchings show 40 s later with one depth and 200 s later with another, in noise of 0.1 V. */
function recorded(firstV: number, secondV: number, seed: number) {
  const random = randomSource(seed);
  const timesS = Float64Array.from({ length: 1240 }, (_, i) => i / 4);
  const dips = (t: number) => (isOn(t - 40) ? firstV : 0) + (isOn(t - 200) ? secondV : 0);
  return { timesS, voltagesV: timesS.map((t) => 24 - dips(t) + 0.1 * random.normal()) };
}

/** Sizes of the best offset and of the best other one, in noise of a reading; from parts that have tests of their own. */
function sizes({ timesS, voltagesV }: ReturnType<typeof recorded>): readonly [number, number] {
  const voltage = evenGrid(timesS, voltagesV, 0.25, 0.25);
  const amperes = evenGrid(current.timesS, current.currentsA, 0.25, 0.25);
  const noiseV = robustNoise(voltage.values);
  for (const grid of [voltage, amperes]) takeLevelOff(grid, 20);
  const { best, other } = coarseOffsets(voltage, amperes, 3600)!;
  return [Math.abs(best.scoreV) / noiseV, Math.abs(other!.scoreV) / noiseV];
}

describe("alignClocks() with a rival offset", () => {
  const cases = Array.from({ length: 400 }, (_, k) => {
    const firstV = [0.06, 0.1, 0.2, 0.3, 0.5, 1][k % 6]!;
    const recording = recorded(firstV, firstV * (0.55 + 0.08 * Math.floor((k % 36) / 6)), 700 + k);
    const [best, other] = sizes(recording);
    return { recording, best, share: other / best, margin: (best * best - other * other) / 2 };
  });
  const shown = cases.filter(({ best }) => best >= 6);
  const said = ({ recording }: (typeof cases)[number]) => {
    const found = alignClocks(recording, current);
    return found.known ? null : found.reason;
  };

  it("is in doubt from 96 % of the best on, or where the likelihoods are nearer than 12: half the squares' difference", () => {
    const near = shown.filter(({ share, margin }) => share > 0.96 && margin >= 12);
    const within = shown.filter(({ share, margin }) => share <= 0.96 && margin < 12);
    // Each of the two reasons has been met without the other.
    expect(Math.min(near.length, within.length)).toBeGreaterThan(5);
    for (const each of [...near, ...within]) expect(said(each), JSON.stringify(each.share)).toBe("two-offsets-fit");
  });

  it("is in no such doubt beyond: the cases nearest to each limit", () => {
    const clear = shown.filter(({ share, margin }) => share <= 0.96 && margin >= 12);
    const byShare = clear.toSorted((a, b) => b.share - a.share).slice(0, 2);
    const byMargin = clear.toSorted((a, b) => a.margin - b.margin).slice(0, 2);
    expect(byShare[0]!.share).toBeGreaterThan(0.9);
    expect(byMargin[0]!.margin).toBeLessThan(13.2);
    for (const each of [...byShare, ...byMargin]) expect(said(each)).not.toBe("two-offsets-fit");
  });

  it("sees nothing that the two share below six times the noise", () => {
    const faint = cases.filter(({ best }) => best < 6);
    expect(faint.length).toBeGreaterThan(5);
    expect(Math.max(...faint.map(({ best }) => best))).toBeGreaterThan(5.5);
    for (const each of faint) expect(said(each)).toBe("no-shared-event");
  });
});
