import { describe, expect, it } from "vitest";
import { baselineBefore } from "../../../src/core/estimation/baseline.js";
import { blockMeans } from "../../../src/core/estimation/block-means.js";
import { levelAt } from "../../../src/core/estimation/level-at.js";
import { levelBeside } from "../../../src/core/estimation/level-beside.js";

const even = (count: number, intervalS = 1) => Float64Array.from({ length: count }, (_, i) => i * intervalS);

describe("blockMeans()", () => {
  it("means so many values each, the last block what is left", () => {
    expect(Array.from(blockMeans(Float64Array.of(1, 3, 5, 7, 100), 2))).toEqual([2, 6, 100]);
    expect(Array.from(blockMeans(Float64Array.of(4, 8), 5))).toEqual([6]);
    expect(blockMeans(new Float64Array(0), 3)).toHaveLength(0);
  });
});

describe("levelAt()", () => {
  const place = (atS: number, startS = 0, endS = 100) => ({ originS: 10, atS, startS, endS });

  it("is a straight line through the readings within a quarter of the time since the step", () => {
    // Target 18 s: readings from 16 to 20 s.
    const values = even(40).map((t) => 5 + 0.5 * (t - 18) + (t === 17 ? 1 : 0) + (t < 16 || t > 20 ? 99 : 0));
    const found = levelAt(even(40), values, place(8), 0)!;
    // The reading at 17 s is off by 1: mean up by 1/5, slope by -1/10.
    expect(found.level).toBeCloseTo(5.2, 12);
    expect(found.slope).toBeCloseTo(0.4, 12);
    expect(found.noiseFactor).toBeCloseTo(1 / Math.sqrt(5), 12);
  });

  it("counts its uncertainty away from the middle, and fewer independent readings where neighbours are correlated", () => {
    // Readings from 17 s on: 17, 18, 19, 20 with the target at 18: half a second before their middle.
    const one = levelAt(even(40), even(40), place(8, 17), 0)!;
    expect(one.level).toBeCloseTo(18, 12);
    expect(one.noiseFactor).toBeCloseTo(Math.sqrt(1 / 4 + 0.25 / 5), 12);
    // Correlated over 3 s: 1 + 4 s / 6 s of five readings.
    const correlated = levelAt(even(40), even(40), place(8), 3)!;
    expect(correlated.noiseFactor).toBeCloseTo(Math.sqrt((1 / 5) * (5 / (1 + 4 / 6))), 12);
  });

  it("else is the reading itself, with the slope to the next one, or to the one before", () => {
    const values = Float64Array.from([...even(12).map((t) => t * t)]);
    expect(levelAt(even(12), values, place(1), 0)).toEqual({ level: 121, slope: 21, noiseFactor: 1 });
    expect(levelAt(even(13), Float64Array.from([...values, 200]), place(1), 0)).toEqual({
      level: 121,
      slope: 79,
      noiseFactor: 1,
    });
    // The reading before stands before the step: no slope.
    expect(levelAt(even(12), values, place(1, 10.5), 0)).toEqual({ level: 121, slope: 0, noiseFactor: 1 });
  });

  it("else is between its two neighbours, if these are no farther apart than the time since the step", () => {
    const values = even(20).map((t) => (t < 12 ? 4 : 8));
    const found = levelAt(even(20), values, place(1.25), 0)!;
    expect(found.level).toBeCloseTo(5, 12);
    expect(found.slope).toBe(4);
    expect(found.noiseFactor).toBeCloseTo(Math.hypot(0.75, 0.25), 12);
    expect(levelAt(even(20, 2), even(20, 2), place(2.5), 0)).not.toBeNull();
    expect(levelAt(even(20, 3), even(20, 3), place(2.5), 0)).toBeNull();
  });

  it("of readings that all bear the stamp of that moment is their mean, as sure as one", () => {
    const timesS = Float64Array.of(9, 18, 18, 18, 27);
    const found = levelAt(timesS, Float64Array.of(0, 1, 2, 6, 0), place(8), 0);
    expect(found).toEqual({ level: expect.closeTo(3, 12), slope: 0, noiseFactor: 1 });
  });

  it("is nothing beyond the level, before it or past the readings", () => {
    expect(levelAt(even(20), even(20), place(1.5, 11.4), 0)).toBeNull();
    expect(levelAt(even(20), even(20), place(1.5, 11), 0)).not.toBeNull();
    expect(levelAt(even(20), even(20), place(1.5, 0, 11.8), 0)).toBeNull();
    expect(levelAt(even(20), even(20), place(1.5, 0, 12), 0)).not.toBeNull();
    expect(levelAt(even(12), even(12), place(1.5), 0)).toBeNull();
    expect(levelAt(Float64Array.of(20, 21), Float64Array.of(1, 2), place(1.5), 0)).toBeNull();
  });
});

describe("levelBeside()", () => {
  it("is the mean where the readings do not clearly slope, or are fewer than four", () => {
    const flat = Float64Array.of(9, 1, 1.2, 0.8, 1, 9);
    expect(levelBeside(flat, 1, 5, "end", 0.1)).toEqual({ level: 1, noiseFactor: 0.5, slopes: false });
    expect(levelBeside(Float64Array.of(1, 5, 9), 0, 3, "end", 0.001)).toEqual({
      level: 5,
      noiseFactor: 1 / Math.sqrt(3),
      slopes: false,
    });
  });

  it("is carried on by half an interval beyond its end where they do", () => {
    const line = Float64Array.of(1, 2, 3, 4);
    const end = levelBeside(line, 0, 4, "end", 0.1);
    expect(end.level).toBeCloseTo(4.5, 12);
    expect(end.slopes).toBe(true);
    // Mean of four and slope of squares 5, two intervals beyond the middle.
    expect(end.noiseFactor).toBeCloseTo(Math.sqrt(1 / 4 + 4 / 5), 12);
    expect(levelBeside(line, 0, 4, "start", 0.1).level).toBeCloseTo(0.5, 12);
    expect(levelBeside(line, 0, 4, "start", 0.1).noiseFactor).toBeCloseTo(end.noiseFactor, 12);
  });

  it("a slope is clear from three of its standard uncertainties on", () => {
    // One a reading, sigma / sqrt 5: three of them are one at sigma = sqrt 5 / 3 = 0.7454.
    const slopes = (sigma: number) => levelBeside(Float64Array.of(4, 3, 2, 1), 0, 4, "end", sigma).slopes;
    expect(slopes(0.745)).toBe(true);
    expect(slopes(0.746)).toBe(false);
  });
});

describe("baselineBefore()", () => {
  const white = { sigma: 0.01, correlationS: 0 };
  const place = { fromS: 0, toS: 20, referenceS: 20.5 };

  it("is the line of least squares with the drift held by its prior of 4e-5 of the level a second", () => {
    const timesS = even(30);
    const values = timesS.map((t, i) => 24 + 0.002 * t + 0.004 * ((i % 3) - 1));
    const found = baselineBefore(timesS, values, place, white)!;
    // Normal equations written out: 21 readings of 10 mV, and the slope once more with 24.04 x 4e-5.
    const origin = values[20]!;
    let [sw, st, stt, sy, sty] = [0, 0, (4e-5 * origin) ** -2, 0, 0];
    for (let k = 0; k <= 20; k++) {
      const [w, t, y] = [1e4, timesS[k]! - 20.5, values[k]! - origin];
      sw += w;
      st += w * t;
      stt += w * t * t;
      sy += w * y;
      sty += w * t * y;
    }
    const determinant = sw * stt - st * st;
    expect(found.count).toBe(21);
    expect(found.level).toBeCloseTo(origin + (stt * sy - st * sty) / determinant, 10);
    expect(found.slope).toBeCloseTo((sw * sty - st * sy) / determinant, 12);
    expect(found.uLevel).toBeCloseTo(Math.sqrt(stt / determinant), 12);
    expect(found.uSlope).toBeCloseTo(Math.sqrt(sw / determinant), 12);
    expect(found.covariance).toBeCloseTo(-st / determinant, 12);
  });

  it("takes the readings of the last half minute, and the last four where these are fewer", () => {
    const count = (intervalS: number, fromS = 0) => {
      const timesS = even(300, intervalS);
      return baselineBefore(
        timesS,
        timesS.map(() => 24),
        { fromS, toS: 200, referenceS: 200 },
        white,
      )?.count;
    };
    expect(count(1)).toBe(31);
    expect(count(1, 190)).toBe(11);
    expect(count(40)).toBe(4);
    expect(count(40, 100)).toBe(3);
    expect(count(1, 201)).toBeUndefined();
    expect(count(1, 200)).toBe(1);
  });

  it("of one reading is that reading, its drift unknown", () => {
    const { level, uLevel } = baselineBefore(
      Float64Array.of(5),
      Float64Array.of(24),
      { fromS: 0, toS: 5, referenceS: 5 },
      white,
    )!;
    expect(level).toBeCloseTo(24, 12);
    expect(uLevel).toBeCloseTo(0.01, 12);
  });

  it("of correlated readings knows as much as of fewer", () => {
    const timesS = even(21);
    const values = timesS.map(() => 24);
    const plain = baselineBefore(timesS, values, { ...place, referenceS: 10 }, white)!;
    const found = baselineBefore(timesS, values, { ...place, referenceS: 10 }, { sigma: 0.01, correlationS: 2 })!;
    // 1 + 20 s / 4 s = 6 of 21.
    expect(found.uLevel / plain.uLevel).toBeCloseTo(Math.sqrt(21 / 6), 6);
  });
});
