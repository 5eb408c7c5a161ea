import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { flightSlope } from "../../../src/core/trend/slope.js";
import { flightRecord } from "../../bench/flight-record.js";

function slopes(flightCount: number, perFlight: number, trials: number) {
  const generator = randomGenerator(31);
  const departure = (index: number) => (perFlight * index) / 0.1;
  return Array.from({ length: trials }, () =>
    flightSlope(flightRecord({ flightCount, phi: 0.3, outlierShare: 0, departure }, generator).map((z) => 0.1 * z)),
  );
}

describe("flightSlope", () => {
  it("flightSlope() does not hang on the unit of the readings, and turns with their sign", () => {
    for (const logs of [1, 2, 3, 4].map((seed) => {
      const record = flightRecord({ flightCount: 120, phi: 0.4, outlierShare: 0.05 }, randomGenerator(seed));
      return record.map((z, k) => 0.1 * z + 0.003 * k);
    })) {
      const plain = flightSlope(logs);
      if (!plain.known) throw new Error(plain.reason);
      for (const unit of [-7, 5]) {
        const other = flightSlope(logs.map((log) => log + unit));
        if (!other.known) throw new Error(other.reason);
        for (const key of ["perFlight", "low", "high"] as const) expect(other[key]).toBeCloseTo(plain[key], 12);
        expect(other.test.z).toBeCloseTo(plain.test.z, 9);
      }
      const turned = flightSlope(logs.map((log) => -log));
      if (!turned.known) throw new Error(turned.reason);
      expect([turned.low, turned.high]).toEqual([expect.closeTo(-plain.high, 12), expect.closeTo(-plain.low, 12)]);
    }
  });

  it("flightSlope() of 20 flights is never shown and says how many flights more would tell", () => {
    for (const slope of slopes(20, 0.002, 50)) {
      expect(slope).toMatchObject({ known: false, reason: "too-few-flights" });
      if (!slope.known) expect(slope.moreFlights).toBeGreaterThan(10);
    }
  });

  it("flightSlope() of 100 flights is shown and covers the true slope in 95 % of records", () => {
    const all = slopes(100, 0.002, 150);
    expect(all.filter((slope) => slope.known).length).toBeGreaterThan(145);
    const covering = all.filter((slope) => slope.known && slope.low <= 0.002 && slope.high >= 0.002);
    // 150 records: two standard errors are 3.6 points.
    expect(covering.length / all.length).toBeGreaterThan(0.91);
  });

  it("flightSlope() of a steep and even rise is shown after 25 flights", () => {
    const rise = Float64Array.from({ length: 25 }, (_, index) => 0.02 * index + 0.01 * (-1) ** index);
    expect(flightSlope(rise)).toMatchObject({ known: true });
  });
});
