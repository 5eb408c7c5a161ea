import { describe, expect, it } from "vitest";
import { levelAt } from "../../../src/core/estimation/level-at.js";
import { levelBeside } from "../../../src/core/estimation/level-beside.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { invert, times } from "../../oracles/dense-noise.js";

const random = randomGenerator(6);
const timesS = Float64Array.from({ length: 400 }, (_, k) => 100 + k / 10 + 0.03 * random.uniform());
const values = timesS.map((t) => 24 - 0.01 * (t - 100) + 0.02 * random.normal());

/** Straight line by the normal equations, told at `atX`: level, slope and the variance of the level in units of a reading's. */
function lineAt(x: readonly number[], y: readonly number[], atX: number) {
  const rows = x.map((each) => [1, each - atX]);
  const { inverse } = invert(
    [0, 1].map((a) => [0, 1].map((b) => rows.reduce((sum, row) => sum + row[a]! * row[b]!, 0))),
  );
  const [level, slope] = times(
    inverse,
    [0, 1].map((a) => rows.reduce((sum, row, k) => sum + row[a]! * y[k]!, 0)),
  );
  return { level: level!, slope: slope!, variance: inverse[0]![0]! };
}
const within = (lowS: number, highS: number) =>
  Array.from(timesS.keys()).filter((k) => timesS[k]! >= lowS && timesS[k]! <= highS);

describe("levelAt()", () => {
  it.each([
    [1, 0, 100, 140],
    [4, 0, 100, 140],
    [10, 0.4, 100, 140],
    [4, 0, 107.45, 140],
    [4, 0, 100, 108.6],
  ])(
    "%d s after the step is that of a line through the readings within a quarter of it",
    (atS, correlationS, startS, endS) => {
      const targetS = 104 + atS;
      const found = levelAt(timesS, values, { originS: 104, atS, startS, endS }, correlationS)!;
      const used = within(Math.max(startS, targetS - atS / 4), Math.min(endS, targetS + atS / 4));
      expect(used.length).toBeGreaterThanOrEqual(3);
      const line = lineAt(
        used.map((k) => timesS[k]!),
        used.map((k) => values[k]!),
        targetS,
      );
      const spanS = timesS[used.at(-1)!]! - timesS[used[0]!]!;
      const independent = Math.min(used.length, 1 + spanS / (2 * correlationS));
      expect(found.level).toBeCloseTo(line.level, 9);
      expect(found.slope).toBeCloseTo(line.slope, 9);
      expect(found.noiseFactor).toBeCloseTo(Math.sqrt((line.variance * used.length) / independent), 9);
    },
  );

  it("lies on the line between two neighbours where there are no three, no farther apart than the time itself", () => {
    const sparse = Float64Array.of(0, 2, 5, 9);
    const volts = Float64Array.of(24, 23, 22.4, 22);
    const at = (originS: number, atS: number, startS = 0, endS = 9) =>
      levelAt(sparse, volts, { originS, atS, startS, endS }, 0);
    expect(at(0, 4)).toEqual({
      level: expect.closeTo(23 + (2 / 3) * -0.6, 12),
      slope: expect.closeTo(-0.2, 12),
      noiseFactor: expect.closeTo(Math.hypot(1 / 3, 2 / 3), 12),
    });
    // Three seconds apart: told from 3 s after the step on.
    expect(at(1.1, 2.9)).toBeNull();
    expect(at(1, 3)).not.toBeNull();
    // Both must lie between the step and the end.
    expect(at(0, 4, 2.1)).toBeNull();
    expect(at(0, 4, 2)).not.toBeNull();
    expect(at(0, 4, 0, 4.9)).toBeNull();
    expect(at(0, 4, 0, 5)).not.toBeNull();
    expect(at(0, 10)).toBeNull();
    expect(levelAt(sparse, volts, { originS: -5, atS: 4, startS: -5, endS: 9 }, 0)).toBeNull();
  });

  it("is the reading of that very moment, its slope that to the next one, or from the last one to the one before", () => {
    const sparse = Float64Array.of(0, 2, 5, 9);
    const volts = Float64Array.of(24, 23, 22.4, 22);
    const at = (atS: number, startS = 0) => levelAt(sparse, volts, { originS: 0, atS, startS, endS: 9 }, 0)!;
    expect(at(5)).toEqual({ level: 22.4, slope: expect.closeTo(-0.1, 12), noiseFactor: 1 });
    expect(at(9)).toEqual({ level: 22, slope: expect.closeTo(-0.1, 12), noiseFactor: 1 });
    expect(at(9, 6)).toEqual({ level: 22, slope: 0, noiseFactor: 1 });
  });

  it("tells a level and no slope of readings that all bear one stamp", () => {
    const stamped = Float64Array.of(4, 4, 4, 4);
    const found = levelAt(stamped, Float64Array.of(1, 2, 3, 6), { originS: 0, atS: 4, startS: 0, endS: 9 }, 0);
    expect(found).toEqual({ level: 3, slope: 0, noiseFactor: 1 });
  });
});

describe("levelBeside()", () => {
  const steep = Float64Array.from({ length: 12 }, (_, k) => 5 + 0.3 * k + 0.1 * Math.sin(5 * k));

  it.each([
    ["start", 2, 9],
    ["end", 2, 9],
    ["end", 0, 4],
    ["start", 5, 12],
  ] as const)("goes on along a clear slope, half an interval beyond its %s (%d to %d)", (side, from, to) => {
    const places = Array.from({ length: to - from }, (_, k) => from + k);
    const line = lineAt(
      places,
      places.map((k) => steep[k]!),
      side === "end" ? to - 0.5 : from - 0.5,
    );
    const found = levelBeside(steep, from, to, side, 0.01);
    expect(found.level).toBeCloseTo(line.level, 9);
    expect(found.noiseFactor).toBeCloseTo(Math.sqrt(line.variance), 9);
    expect(found.slopes).toBe(true);
  });

  it("is the mean of fewer than four readings, and of a slope of three standard uncertainties or less", () => {
    const mean = (from: number, to: number) => steep.subarray(from, to).reduce((sum, v) => sum + v, 0) / (to - from);
    expect(levelBeside(steep, 3, 6, "end", 0.01)).toEqual({
      level: expect.closeTo(mean(3, 6), 12),
      noiseFactor: expect.closeTo(1 / Math.sqrt(3), 12),
      slopes: false,
    });
    // A line of slope 1 through five places, whose squares about the middle are 10: three times the noise at 1.054.
    const line = Float64Array.of(0, 1, 2, 3, 4);
    const limit = Math.sqrt(10) / 3;
    for (const sign of [1, -1]) {
      const slope = line.map((v) => sign * v);
      expect(levelBeside(slope, 0, 5, "end", 1.01 * limit)).toEqual({
        level: sign * 2,
        noiseFactor: expect.closeTo(1 / Math.sqrt(5), 12),
        slopes: false,
      });
      expect(levelBeside(slope, 0, 5, "end", 0.99 * limit).level).toBeCloseTo(sign * 4.5, 12);
      expect(levelBeside(slope, 0, 5, "start", 0.99 * limit).level).toBeCloseTo(sign * -0.5, 12);
    }
  });
});
