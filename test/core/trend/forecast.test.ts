import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { limitForecast } from "../../../src/core/trend/forecast.js";
import { flightRecord } from "../../bench/flight-record.js";

const days = (count: number) => Array.from({ length: count }, (_, index) => 3 * index);

describe("limitForecast", () => {
  it("limitForecast() of an even rise finds the day of the limit", () => {
    // 0.01 per flight, 3 days apart: ln 1.5 after 40.5 flights.
    const logReadings = days(30).map((_, index) => 0.01 * index + 1e-4 * (-1) ** index);
    const forecast = limitForecast({ moments: days(30), logReadings, logLimit: Math.log(1.5) });
    const truth = (3 * Math.log(1.5)) / 0.01;
    if (!forecast.known) throw new Error(forecast.reason);
    expect(Math.abs(forecast.at / truth - 1)).toBeLessThan(0.03);
    expect(forecast.low).toBeLessThanOrEqual(forecast.at);
    expect(forecast.high).toBeGreaterThanOrEqual(forecast.at);
  });

  it("limitForecast() of a level that is flat up to the twentieth flight and then rises finds the day of the limit", () => {
    const logReadings = days(40).map((_, index) => 0.2 + 0.01 * Math.max(0, index - 20) + 1e-4 * (-1) ** index);
    const forecast = limitForecast({ moments: days(40), logReadings, logLimit: 0.2 + Math.log(1.5) });
    const truth = 3 * (20 + Math.log(1.5) / 0.01);
    if (!forecast.known) throw new Error(forecast.reason);
    // Crossings are tried 2.2 % apart.
    expect(Math.abs(forecast.at / truth - 1)).toBeLessThan(0.023);
    expect(forecast.low / truth).toBeGreaterThan(0.96);
    expect(forecast.high / truth).toBeLessThan(1.04);
  });

  it("limitForecast() follows a change of origin and unit of time", () => {
    const logReadings = flightRecord(
      { flightCount: 40, phi: 0, outlierShare: 0, departure: (index) => 0.1 * index },
      randomGenerator(2),
    ).map((z) => 0.1 * z);
    const plain = limitForecast({ moments: days(40), logReadings, logLimit: 0.6 });
    const moved = limitForecast({ moments: days(40).map((day) => 1.7e9 + 86_400 * day), logReadings, logLimit: 0.6 });
    if (!plain.known || !moved.known) throw new Error("not known");
    for (const edge of ["at", "low", "high"] as const)
      expect((moved[edge] - 1.7e9) / 86_400).toBeCloseTo(plain[edge], 3);
  });

  it("limitForecast() covers the true day in about 95 % of records, straight or from the fiftieth flight on", () => {
    const generator = randomGenerator(17);
    for (const [flightCount, onset, slope] of [
      [60, 0, 0.004],
      [100, 50, 0.006],
    ]) {
      const truth = onset + Math.log(1.5) / slope;
      let known = 0;
      let covering = 0;
      for (let trial = 0; trial < 200; trial++) {
        const departure = (index: number) => (Math.max(0, index - onset) * slope) / 0.1;
        const z = flightRecord({ flightCount, phi: 0.3, outlierShare: 0.02, departure }, generator);
        const forecast = limitForecast({
          moments: z.map((_, index) => index),
          logReadings: z.map((each) => 0.1 * each),
          logLimit: Math.log(1.5),
        });
        if (!forecast.known) continue;
        known++;
        if (forecast.low <= truth && forecast.high >= truth) covering++;
      }
      expect(known).toBeGreaterThan(170);
      // 200 records: two standard errors are 3 points.
      expect(covering / known).toBeGreaterThan(0.9);
    }
  });

  it("limitForecast() of flat flights is known in at most one record in ten", () => {
    const generator = randomGenerator(18);
    let known = 0;
    for (let trial = 0; trial < 150; trial++) {
      const z = flightRecord({ flightCount: 60, phi: 0.3, outlierShare: 0.02 }, generator);
      const logReadings = z.map((each) => 0.1 * each);
      if (limitForecast({ moments: z.map((_, index) => index), logReadings, logLimit: 0.4 }).known) known++;
    }
    expect(known).toBeLessThanOrEqual(15);
  });

  it("limitForecast() of flights that come down to the limit, or through it, foresees nothing", () => {
    const falling = (perFlight: number) =>
      limitForecast({
        moments: days(30),
        logReadings: days(30).map((_, index) => 1.1 - perFlight * index + 1e-3 * (-1) ** index),
        logLimit: 0.5,
      });
    // A straight line would be at the limit after 60, 30 and 20 flights.
    for (const perFlight of [0.01, 0.02, 0.03])
      expect(falling(perFlight), `${perFlight}`).toMatchObject({ known: false, reason: "no-rise", moreFlights: null });
  });

  it("limitForecast() of eight flights says that four more are needed", () => {
    expect(limitForecast({ moments: days(8), logReadings: new Array(8).fill(0), logLimit: 1 })).toEqual({
      known: false,
      reason: "too-few-flights",
      notBefore: null,
      moreFlights: 4,
    });
  });
});
