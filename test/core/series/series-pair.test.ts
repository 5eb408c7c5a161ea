import { describe, expect, it } from "vitest";
import { seriesPair } from "../../../src/core/series/series-pair.js";

const even = (count: number, intervalS: number) => Float64Array.from({ length: count }, (_, i) => i * intervalS);
const changing = (timesS: Float64Array) => timesS.map((_, i) => (i * 37) % 101);

describe("seriesPair()", () => {
  it("hands on both series with their usual intervals", () => {
    const [v, a] = [even(50, 0.5), even(80, 0.25)];
    const pair = seriesPair({ timesS: v, voltagesV: changing(v) }, { timesS: a, currentsA: changing(a) });
    expect(pair.voltageTimesS).toEqual(v);
    expect(pair.voltagesV).toEqual(changing(v));
    expect(pair.currentTimesS).toEqual(a);
    expect(pair.currentsA).toEqual(changing(a));
    expect(pair).toMatchObject({
      voltageIntervalS: 0.5,
      currentIntervalS: 0.25,
      slowerS: 0.5,
      voltageRowS: 0.5,
      currentRowS: 0.25,
    });
  });

  it("joins readings faster than a twentieth of the slower interval to means over a tenth of it", () => {
    const [v, a] = [even(400, 1 / 32), even(20, 1)];
    // A tenth of 1 s: 0, 1/32, 2/32, 3/32 are within 0.1 s of the first.
    const pair = seriesPair({ timesS: v, voltagesV: v.map((t) => 3 * t) }, { timesS: a, currentsA: changing(a) });
    expect(pair.voltageTimesS[0]).toBeCloseTo(1.5 / 32, 12);
    expect(pair.voltageTimesS[1]).toBeCloseTo(5.5 / 32, 12);
    expect(pair.voltageTimesS).toHaveLength(100);
    pair.voltagesV.forEach((value, i) => {
      expect(value).toBeCloseTo(3 * pair.voltageTimesS[i]!, 9);
    });
    expect(pair.voltageIntervalS).toBeCloseTo(4 / 32, 12);
    expect(pair.voltageRowS).toBeCloseTo(1 / 32, 12);
    expect(pair.slowerS).toBe(1);
    // At a twentieth itself they stay as they are.
    const twentieth = even(400, 0.0625);
    const slow = even(20, 1.25);
    const kept = seriesPair(
      { timesS: slow, voltagesV: changing(slow) },
      { timesS: twentieth, currentsA: changing(twentieth) },
    );
    expect(kept.currentTimesS).toHaveLength(400);
  });

  it("leaves out readings that only repeat, and takes the interval of the meter itself", () => {
    const rows = even(200, 0.1);
    const renewed = rows.map((_, i) => (Math.floor(i / 2) * 37) % 101);
    const a = even(80, 0.25);
    const pair = seriesPair({ timesS: rows, voltagesV: renewed }, { timesS: a, currentsA: changing(a) });
    expect(pair.voltageTimesS).toHaveLength(100);
    expect(pair.voltageIntervalS).toBeCloseTo(0.2, 9);
    expect(pair.voltageRowS).toBeCloseTo(0.1, 9);
  });

  it("has no interval of nothing", () => {
    const still = new Float64Array(30);
    const pair = seriesPair(
      { timesS: still, voltagesV: changing(still) },
      { timesS: still, currentsA: changing(still) },
    );
    expect(pair).toMatchObject({ slowerS: 1e-6, voltageIntervalS: 1e-6, currentIntervalS: 1e-6 });
  });
});
