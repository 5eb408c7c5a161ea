import { describe, expect, it } from "vitest";
import { controlLimit } from "../../../src/core/trend/control-limit.js";
import { varianceOfMean } from "../../../src/core/trend/flight-correlation.js";
import { limitForecast } from "../../../src/core/trend/forecast.js";
import { flightSlope } from "../../../src/core/trend/slope.js";
import { judgeTrend, type TrendPoint, type TrendRequest } from "../../../src/core/trend/trend.js";

/** A flight a day; 10 mOhm with a regular unrest of some 4 %, and what is told on top of it. */
const unrest = (k: number) => 0.03 * (((k * 7) % 5) - 2);
const points = (count: number, departure: (k: number) => number = () => 0, share = 0.05): TrendPoint[] =>
  Array.from({ length: count }, (_, k) => {
    const value = 0.01 * Math.exp(unrest(k) + departure(k));
    return { atS: 1e9 + 86_400 * k, value, u: share * value };
  });
const judge = (list: readonly TrendPoint[], more: Partial<TrendRequest> = {}) =>
  judgeTrend({ points: list, worse: "up", ...more });

describe("judgeTrend() by hand", () => {
  it("gathers a baseline of twenty flights, or as many as asked for", () => {
    expect(judge(points(19))).toMatchObject({
      status: "gathering",
      baselineWanting: 1,
      baselineFlights: 20,
      chart: null,
      change: null,
    });
    expect(judge(points(20))).toMatchObject({ status: "steady", baselineWanting: 0 });
    expect(judge(points(12), { baselineFlights: 10 })).toMatchObject({ status: "steady", baselineFlights: 10 });
    expect(judge([])).toMatchObject({
      status: "gathering",
      level: null,
      baselineWanting: 20,
      alarms: [],
      limit: null,
      forecast: null,
    });
  });

  it("tells the level from the last eight flights, wider where flights resemble each other", () => {
    const { level, chart, change } = judge(points(40));
    expect(level!.flightCount).toBe(8);
    const logs = Array.from({ length: 8 }, (_, k) => unrest(32 + k));
    const mean = logs.reduce((a, b) => a + b, 0) / 8;
    expect(level!.value).toBeCloseTo(0.01 * Math.exp(mean), 9);
    // Stated 5 % each; the scatter of 4.2 % is less.
    const u = (0.05 / Math.sqrt(8)) * Math.sqrt(8 * varianceOfMean(8, chart!.phi));
    expect(level!.u / level!.value).toBeCloseTo(u, 9);
    // Student's 97.5 % for seven degrees: 2.3646.
    expect(Math.log(level!.high / level!.value)).toBeCloseTo(2.3646 * u, 4);
    expect(Math.log(level!.value / level!.low)).toBeCloseTo(2.3646 * u, 4);
    const uChange = chart!.sigma * Math.sqrt(varianceOfMean(8, chart!.phi) + varianceOfMean(20, chart!.phi));
    const logChange = Math.log(level!.value / chart!.baseline);
    expect(change!.value).toBeCloseTo(Math.exp(logChange) - 1, 9);
    expect(change!.low).toBeCloseTo(Math.exp(logChange - 1.96 * uChange) - 1, 9);
    expect(change!.high).toBeCloseTo(Math.exp(logChange + 1.96 * uChange) - 1, 9);
    expect(judge(points(1)).level).toMatchObject({ flightCount: 1, value: expect.closeTo(points(1)[0]!.value, 12) });
  });

  it("draws its chart in the unit of the quantity: baseline, moving average and the limit of the table", () => {
    const { chart } = judge(points(30), { falseCallRate: 0.1 });
    expect(chart).toMatchObject({ firstFlight: 20, baselineFlights: 20 });
    expect(chart!.average).toHaveLength(10);
    const limit = controlLimit("ewma", { phi: chart!.phi, baselineFlights: 20, sigmaKnown: false, falseCallRate: 0.1 });
    expect(Math.log(chart!.averageLimit / chart!.baseline)).toBeCloseTo(chart!.sigma * limit, 9);
    expect(chart!.sumLimit).toBeCloseTo(
      controlLimit("cusum", { phi: chart!.phi, baselineFlights: 20, sigmaKnown: false, falseCallRate: 0.1 }),
      9,
    );
    const fleet = { sigma: 0.05, correlation: { value: 0.2, u: 0 } };
    const known = judge(points(30), { fleet }).chart!;
    expect(known).toMatchObject({ sigma: 0.05, phi: 0.2 });
    const own = controlLimit("ewma", { phi: 0.2, baselineFlights: 20, sigmaKnown: true, falseCallRate: 0.17 });
    expect(Math.log(known.averageLimit / known.baseline)).toBeCloseTo(0.05 * own, 9);
  });

  it("takes a limit as a share of the baseline, up or down, or as it stands", () => {
    expect(judge(points(30), { limit: { worseBy: 0.25 } }).limit).toBeCloseTo(
      1.25 * judge(points(30)).chart!.baseline,
      12,
    );
    const down = judge(points(30), { limit: { worseBy: 0.25 }, worse: "down" });
    expect(down.limit).toBeCloseTo(0.75 * down.chart!.baseline, 12);
    expect(judge(points(10), { limit: { worseBy: 0.25 } }).limit).toBeNull();
    expect(judge(points(10), { limit: { value: 0.02 } }).limit).toBe(0.02);
  });

  it("says that a limit is reached, and whether surely: the whole interval beyond it", () => {
    const reached = (value: number, worse: "up" | "down" = "up") =>
      judge(points(30), { limit: { value }, worse }).alarms.find(({ code }) => code === "limit-reached");
    const { low, high, value } = judge(points(30)).level!;
    expect(reached(low)).toEqual({ code: "limit-reached", limit: low, sure: true });
    expect(reached(low * 1.0001)).toMatchObject({ sure: false });
    expect(reached(value * 0.9999)).toMatchObject({ sure: false });
    expect(reached(value * 1.0001)).toBeUndefined();
    expect(reached(value * 1.0001, "down")).toMatchObject({ sure: false });
    expect(reached(high, "down")).toMatchObject({ sure: true });
    expect(reached(value * 0.9999, "down")).toBeUndefined();
    expect(judge(points(30), { limit: { value: low } }).status).toBe("alarm");
  });

  it("keeps an alarm of the past without letting it stand", () => {
    const hump = judge(points(80, (k) => (k >= 30 && k < 45 ? 0.4 : 0)));
    const worse = hump.alarms.find(({ code }) => code === "level-worse");
    expect(worse).toMatchObject({ standing: false });
    expect(hump.status).not.toBe("alarm");
    const risen = judge(points(60, (k) => (k >= 40 ? 0.4 : 0)));
    const [alarm] = risen.alarms;
    if (alarm?.code !== "level-worse") throw new Error("no alarm");
    expect(alarm).toMatchObject({ standing: true, onset: 40 });
    expect(alarm.flight).toBeGreaterThan(40);
    expect(alarm.flight).toBeLessThan(45);
  });

  it("sets flights apart that stand far off three neighbours on either side, by how far they are off the baseline", () => {
    const { outlying, chart } = judge(points(40, (k) => (k === 30 ? 0.5 : 0)));
    expect(outlying.map(({ flight }) => flight)).toEqual([30]);
    expect(outlying[0]!.change).toBeCloseTo((0.01 * Math.exp(unrest(30) + 0.5)) / chart!.baseline - 1, 9);
    // A lasting rise is no row of outliers: at most the last flight before it stands apart.
    const risen = judge(points(40, (k) => (k >= 30 ? 0.5 : 0))).outlying.map(({ flight }) => flight);
    expect(risen.filter((flight) => flight >= 30)).toEqual([]);
    const down = judge(
      points(40, (k) => (k === 30 ? -0.5 : 0)),
      { worse: "down" },
    ).outlying[0]!;
    expect(down.change).toBeLessThan(-0.35);
    expect(judge(points(40, (k) => (k === 39 ? 0.5 : 0))).level!.flightCount).toBe(8);
  });

  it("leaves slope and forecast out of a brief look at a battery in control", () => {
    const limit = { value: 0.02 };
    expect(judge(points(40), { limit, brief: true })).toMatchObject({ slope: null, forecast: null });
    expect(judge(points(40), { limit }).slope).not.toBeNull();
    expect(judge(points(40), { limit }).forecast).not.toBeNull();
    const rising = points(60, (k) => Math.max(0, k - 25) * 0.02);
    expect(judge(rising, { limit, brief: true }).forecast).not.toBeNull();
  });

  it("refuses readings that are none and flights out of order", () => {
    const wrong = (changed: Partial<TrendPoint>) => () => judge([...points(3), { ...points(4)[3]!, ...changed }]);
    expect(wrong({ value: 0 })).toThrow("must be positive");
    expect(wrong({ u: 0 })).toThrow("must be positive");
    expect(wrong({ atS: 0 })).toThrow("flight 3 is not");
  });
});

describe("limitForecast() by hand", () => {
  const course = (count: number, onset: number, perFlight: number) =>
    Array.from({ length: count }, (_, k) => unrest(k) / 4 + Math.max(0, k - onset) * perFlight);
  const moments = (count: number) => Array.from({ length: count }, (_, k) => 100 + 2 * k);

  it("of a straight rise is where the line meets the limit", () => {
    const found = limitForecast({ moments: moments(40), logReadings: course(40, 0, 0.01), logLimit: 0.5 });
    if (!found.known) throw new Error(found.reason);
    // 0.01 a flight, two units of time each: 0.5 after 50 flights.
    expect(Math.abs(found.at - 200)).toBeLessThan(4);
    expect(found.low).toBeLessThan(200);
    expect(found.high).toBeGreaterThan(200);
    expect(found.coverage).toBe(0.95);
  });

  it("of a rise that began in the record goes by what came after", () => {
    const found = limitForecast({ moments: moments(60), logReadings: course(60, 30, 0.01), logLimit: 0.5 });
    if (!found.known) throw new Error(found.reason);
    // From flight 30 on: 0.5 at flight 80.
    expect(Math.abs(found.at - 260)).toBeLessThan(8);
  });

  it("is wider for a higher coverage", () => {
    const width = (coverage: number) => {
      const found = limitForecast({ moments: moments(40), logReadings: course(40, 0, 0.01), logLimit: 0.5, coverage });
      if (!found.known) throw new Error(found.reason);
      return found.high - found.low;
    };
    expect(width(0.999)).toBeGreaterThan(width(0.5));
  });

  it("tells why not: too few flights, no rise, or too far ahead", () => {
    expect(limitForecast({ moments: moments(11), logReadings: course(11, 0, 0.01), logLimit: 1 })).toEqual({
      known: false,
      reason: "too-few-flights",
      notBefore: null,
      moreFlights: 1,
    });
    expect(limitForecast({ moments: moments(40), logReadings: course(40, 0, 0), logLimit: 0.5 })).toMatchObject({
      known: false,
    });
    const far = limitForecast({ moments: moments(40), logReadings: course(40, 0, 0.01), logLimit: 3 });
    expect(far).toMatchObject({ known: false, reason: "too-far-ahead", moreFlights: null });
    expect(far.known ? 0 : far.notBefore!).toBeGreaterThan(178);
  });
});

describe("flightSlope() by hand", () => {
  it("of too few flights says how many more would tell at the usual scatter", () => {
    expect(flightSlope(new Array(7).fill(0))).toEqual({
      known: false,
      reason: "too-few-flights",
      moreFlights: 73,
      earliestMoreFlights: 18,
      soFar: expect.objectContaining({ s: 0, pValue: 1 }),
    });
    expect(flightSlope([1, 2, 3])).toMatchObject({ moreFlights: 77, earliestMoreFlights: 22, soFar: null });
  });

  it("of five flights that only rise says so, though they are too few for a slope", () => {
    // Ten pairs rise; variance 5 x 4 x 15 / 18 (US EPA QA/G-9S, 4.3.4): z = 9 / 4.0825, two-sided p = 0.0275.
    const rise = flightSlope([9.9, 10.6, 11.3, 12.1, 12.9].map(Math.log));
    expect(rise).toMatchObject({ known: false, moreFlights: 75, earliestMoreFlights: 20, soFar: { s: 10 } });
    expect(rise.known ? 1 : rise.soFar!.pValue).toBeCloseTo(0.0275, 3);
  });

  it("of a plain rise is known from 25 flights on", () => {
    const rise = (count: number) => flightSlope(Array.from({ length: count }, (_, k) => 0.02 * k + unrest(k) / 10));
    expect(rise(24)).toMatchObject({ known: false, moreFlights: 1 });
    const found = rise(25);
    if (!found.known) throw new Error(found.reason);
    expect(found.perFlight).toBeCloseTo(0.02, 3);
    expect(found.low).toBeLessThanOrEqual(found.perFlight);
    expect(found.high).toBeGreaterThanOrEqual(found.perFlight);
    expect(found.test.s).toBeGreaterThan(0);
  });
});
