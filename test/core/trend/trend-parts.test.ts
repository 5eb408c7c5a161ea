import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { baselineOf, winsorize } from "../../../src/core/trend/baseline.js";
import { worseSince } from "../../../src/core/trend/change-date.js";
import { compareConcern, concernOf } from "../../../src/core/trend/concern.js";
import { cusum, ewma, ewmaLimits, firstBeyond } from "../../../src/core/trend/control-chart.js";
import { fleetScatter } from "../../../src/core/trend/fleet-scatter.js";
import { correlationFactor, flightCorrelation, varianceOfMean } from "../../../src/core/trend/flight-correlation.js";
import { shiftLooks } from "../../../src/core/trend/level-shift.js";
import { regimesOf } from "../../../src/core/trend/regime.js";
import type { TrendJudgement } from "../../../src/core/trend/trend.js";

describe("control charts by hand", () => {
  it("ewma() moves by its weight, ewmaLimits() by the textbook", () => {
    expect(Array.from(ewma([2, 4], 0.25, 0))).toEqual([0.5, 1.375]);
    expect(Array.from(ewma([2, 4], 1, 0))).toEqual([2, 4]);
    const { lower, upper } = ewmaLimits(10, 2, 0.4);
    // 3 x 2 x sqrt(0.4 / 1.6).
    expect([lower, upper]).toEqual([expect.closeTo(7, 12), expect.closeTo(13, 12)]);
    expect(ewmaLimits(10, 2, 0.4, 1).upper).toBeCloseTo(11, 12);
    for (const weight of [0, -0.1, 1.01]) expect(() => ewma([1], weight, 0)).toThrow(RangeError);
  });

  it("cusum() adds what exceeds target and allowance on either side, and never falls below nothing", () => {
    const { upper, lower } = cusum([10.5, 12, 9, 7, 11], 10, 0.5);
    expect(Array.from(upper)).toEqual([0, 1.5, 0, 0, 0.5]);
    expect(Array.from(lower)).toEqual([0, 0, 0.5, 3, 1.5]);
  });

  it("firstBeyond() is the first index above the limit itself", () => {
    expect(firstBeyond([1, 2, 3, 9], 2)).toBe(2);
    expect(firstBeyond([3], 2)).toBe(0);
    expect(firstBeyond([1, 2], 2)).toBeNull();
    expect(firstBeyond([], 2)).toBeNull();
  });
});

describe("flight correlation", () => {
  it("varianceOfMean() is that of correlated flights, summed over all pairs", () => {
    for (const [count, phi] of [
      [1, 0.4],
      [5, 0.3],
      [12, 0.6],
      [7, 0],
    ] as const) {
      let sum = 0;
      for (let a = 0; a < count; a++) for (let b = 0; b < count; b++) sum += phi ** Math.abs(a - b);
      expect(varianceOfMean(count, phi)).toBeCloseTo(sum / count ** 2, 12);
    }
    expect(correlationFactor(0.5)).toBe(3);
  });

  it("flightCorrelation() weighs the record's own, corrected for its bias, against what was assumed", () => {
    // 0.2 of 20 flights: + 1.8 / 20 = 0.29, variance (1 - 0.29^2) / 20; assumed 0.3 +/- 0.15.
    const own = 20 / (1 - 0.29 ** 2);
    const assumed = 1 / 0.15 ** 2;
    expect(flightCorrelation(0.2, 20)).toBeCloseTo((own * 0.29 + assumed * 0.3) / (own + assumed), 12);
    expect(flightCorrelation(0.2, 20, { value: 0.5, u: 0 })).toBe(0.5);
    expect(flightCorrelation(-0.9, 400)).toBe(0);
    expect(flightCorrelation(0.95, 400)).toBe(0.6);
  });
});

describe("baselineOf() by hand", () => {
  it("winsorises at two and a half scatters", () => {
    expect([winsorize(-9), winsorize(9), winsorize(1.5), winsorize(4, 3)]).toEqual([-2.5, 2.5, 1.5, 3]);
  });

  it("of flights that all read the same has no scatter; of mostly equal ones that of all", () => {
    expect(baselineOf([3, 3, 3, 3, 3])).toEqual({ mean: 3, sigma: 0, r1: 0, flightCount: 5 });
    const mostly = baselineOf([3, 3, 3, 3, 3, 3, 3, 4]);
    expect(mostly.sigma).toBeGreaterThan(0.1);
    expect(mostly.sigma).toBeLessThan(0.6);
    expect(mostly.mean).toBeGreaterThan(3);
  });

  it("takes the first flights alone, and settles on mean and scatter of what it drew in", () => {
    const readings = [1, 2, 3, 4, 5, 6, 7, 8, 100];
    const { mean, sigma, flightCount, r1 } = baselineOf(readings, 8);
    expect(flightCount).toBe(8);
    // None is drawn in: mean 4.5, deviation sqrt 6, over 0.9887 four times from the third pass on.
    expect(mean).toBeCloseTo(4.5, 9);
    expect(sigma).toBeCloseTo(Math.sqrt(6) / 0.9887, 9);
    // Lag-one correlation of a line of eight: by its definition.
    const away = [1, 2, 3, 4, 5, 6, 7, 8].map((v) => v - 4.5);
    const products = away.slice(1).reduce((sum, v, k) => sum + v * away[k]!, 0);
    expect(r1).toBeCloseTo(products / 42, 9);
  });
});

describe("worseSince()", () => {
  const random = randomGenerator(3);
  const flights = (levels: readonly (readonly [number, number])[]) =>
    Float64Array.from(
      levels.flatMap(([count, level]) => Array.from({ length: count }, () => level + 0.3 * random.normal())),
    );

  it("is the flight from which every level stays above half a scatter", () => {
    expect(
      worseSince(
        flights([
          [30, 0],
          [20, 2],
        ]),
        0,
      ),
    ).toBe(30);
    expect(
      worseSince(
        flights([
          [30, 0],
          [15, 2],
          [15, 4],
        ]),
        0,
      ),
    ).toBe(30);
    expect(
      worseSince(
        flights([
          [15, 2],
          [20, 0],
          [15, 2],
        ]),
        0,
      ),
    ).toBe(35);
    expect(
      worseSince(
        flights([
          [30, 0],
          [20, 2],
          [15, 0],
        ]),
        0,
      ),
    ).toBeNull();
    expect(worseSince(flights([[40, 0]]), 0)).toBeNull();
    expect(worseSince(flights([[40, 2]]), 0)).toBe(0);
  });

  it("asks for more where flights resemble each other", () => {
    // 8 flights 1.2 scatters up: 8 x 1.44 = 11.5 against 3 ln 48 = 11.6 and more.
    const slight = Float64Array.from({ length: 48 }, (_, k) => (k < 38 ? 0 : 1.4));
    expect(worseSince(slight, 0)).toBe(38);
    expect(worseSince(slight, 0.5)).toBeNull();
  });
});

describe("shiftLooks() by hand", () => {
  const levels = (earlier: number, newest: number, fall = 1) =>
    Float64Array.from({ length: earlier + newest }, (_, k) => (k < earlier ? 0 : -fall));

  it("holds the newest two to five flights against up to forty before them", () => {
    const z = levels(20, 3);
    const looks = shiftLooks(z, 0, 22);
    expect(looks).toHaveLength(1);
    expect(looks[0]!.firstFlight).toBe(20);
    expect(looks[0]!.t).toBeCloseTo(1 / Math.sqrt(1 / 20 + 1 / 3), 12);
    // Only the forty before count: what lies before them does not.
    const old = Float64Array.from([...new Array(10).fill(3), ...levels(40, 3)]);
    expect(shiftLooks(old, 0, 52)[0]!.t).toBeCloseTo(1 / Math.sqrt(1 / 40 + 1 / 3), 12);
    // Six newest flights: of five of them, with one of the new level among the earlier.
    const six = shiftLooks(levels(20, 6), 0, 25)[0]!;
    expect(six.firstFlight).toBe(21);
  });

  it("looks after each flight from the first on, with ten earlier ones at least", () => {
    expect(shiftLooks(levels(20, 3), 0, 12)).toHaveLength(11);
    expect(shiftLooks(levels(9, 2), 0, 10)).toEqual([{ t: 0, firstFlight: 11 }]);
    expect(shiftLooks(levels(10, 2), 0, 11)[0]!.t).toBeCloseTo(1 / Math.sqrt(1 / 10 + 1 / 2), 12);
    expect(shiftLooks(levels(20, 3, -1), 0, 22)[0]!.t).toBe(0);
  });

  it("draws wild flights in to three scatters, and counts the correlation", () => {
    expect(shiftLooks(levels(20, 2, 50), 0, 21)[0]!.t).toBeCloseTo(3 / Math.sqrt(1 / 20 + 1 / 2), 12);
    const { t } = shiftLooks(levels(20, 2), 0.3, 21)[0]!;
    expect(t).toBeCloseTo(1 / Math.sqrt(varianceOfMean(20, 0.3) + varianceOfMean(2, 0.3)), 12);
  });
});

describe("regimesOf()", () => {
  // A regular unrest of 5 %: nothing is asked by chance.
  const options = { baselineFlights: 20, questionRate: 0.18 };
  const logs = (parts: readonly (readonly [number, number])[]) =>
    Float64Array.from(
      parts.flatMap(([count, level]) => Array.from({ length: count }, (_, k) => level + 0.036 * (((k * 7) % 5) - 2))),
    );

  it("is one while the level holds, without charts until the baseline is complete", () => {
    const { regimes, shifts } = regimesOf(logs([[19, 0]]), options);
    expect(shifts).toEqual([]);
    expect(regimes).toMatchObject([{ start: 0, end: 19, charts: null }]);
    const whole = regimesOf(logs([[60, 0]]), options).regimes;
    expect(whole).toMatchObject([{ start: 0, end: 60 }]);
    expect(whole[0]!.charts).not.toBeNull();
  });

  it("begins anew where the level fell, and tells by how much and how surely", () => {
    const { regimes, shifts } = regimesOf(
      logs([
        [40, 0],
        [40, -0.4],
      ]),
      options,
    );
    expect(regimes.map(({ start, end }) => [start, end])).toEqual([
      [0, 40],
      [40, 80],
    ]);
    expect(shifts).toHaveLength(1);
    const { firstFlight, foundAt, change, uChange } = shifts[0]!;
    expect(firstFlight).toBe(40);
    expect(foundAt).toBeGreaterThanOrEqual(41);
    expect(foundAt).toBeLessThanOrEqual(44);
    expect(Math.abs(change + 0.4)).toBeLessThan(4 * uChange);
    expect(uChange).toBeGreaterThan(0.01);
    expect(uChange).toBeLessThan(0.1);
    // A rise is no such fall.
    expect(
      regimesOf(
        logs([
          [40, 0],
          [40, 0.4],
        ]),
        options,
      ).shifts,
    ).toEqual([]);
  });

  it("takes scatter and correlation of the fleet where it has told them", () => {
    const fleet = { sigma: 0.05, correlation: { value: 0.25, u: 0 } };
    const { regimes } = regimesOf(logs([[30, 0]]), { ...options, fleet });
    expect(regimes[0]!.phi).toBe(0.25);
    expect(regimes[0]!.charts!.baseline.sigma).toBe(0.05);
    expect(regimesOf(logs([[5, 0]]), { ...options, fleet }).regimes[0]!.phi).toBe(0.25);
    // Too few flights to tell: 0.3, with the bias of one flight.
    expect(regimesOf(logs([[5, 0]]), options).regimes[0]!.phi).toBeCloseTo(flightCorrelation(0, 1), 12);
  });
});

describe("fleetScatter()", () => {
  const random = randomGenerator(4);
  const battery = (sigma: number, count = 20) => Array.from({ length: count }, () => sigma * random.normal());

  it("is the scatter common to eight batteries or more, give or take their number", () => {
    expect(
      fleetScatter(
        Array.from({ length: 7 }, () => battery(0.05)),
        20,
      ),
    ).toBeNull();
    expect(
      fleetScatter(
        Array.from({ length: 8 }, () => battery(0.05)),
        20,
      ),
    ).not.toBeNull();
    const found = fleetScatter(
      Array.from({ length: 60 }, () => battery(0.05)),
      20,
    )!;
    // Sixty scatters known to 16 % each: their median to 2.7 %; four of these.
    expect(Math.abs(found.sigma / 0.05 - 1)).toBeLessThan(0.11);
    expect(found.correlation.value).toBeLessThan(0.12);
    expect(found.correlation.u).toBeCloseTo(1 / Math.sqrt(1200), 12);
  });

  it("is none where batteries scatter differently, and counts those alone that have a whole baseline and any scatter", () => {
    expect(
      fleetScatter(
        Array.from({ length: 30 }, (_, k) => battery(k % 2 === 0 ? 0.02 : 0.2)),
        20,
      ),
    ).toBeNull();
    const short = [...Array.from({ length: 7 }, () => battery(0.05)), battery(0.05, 19), new Array(20).fill(1)];
    expect(fleetScatter(short, 20)).toBeNull();
  });
});

describe("concernOf() and compareConcern()", () => {
  const judgement = (changed: object) =>
    ({
      alarms: [],
      forecast: null,
      status: "steady",
      chart: null,
      baselineWanting: 7,
      ...changed,
    }) as unknown as TrendJudgement;
  // A quarter of the way from 1 to 16 on a logarithmic scale is 2.
  const chart = { average: Float64Array.of(1, 2), baseline: 1, averageLimit: 16 };

  it("ranks a limit reached above a level that is worse, a forecast, a question, control and gathering", () => {
    const year = 31_557_600;
    const worse = { code: "level-worse", standing: true };
    expect(concernOf(judgement({ alarms: [worse, { code: "limit-reached" }], chart }), 0)).toEqual({
      class: 5,
      measure: 0.25,
    });
    expect(concernOf(judgement({ alarms: [worse], chart }), 0)).toEqual({ class: 4, measure: 0.25 });
    expect(concernOf(judgement({ alarms: [{ ...worse, standing: false }], chart }), 0)).toEqual({
      class: 1,
      measure: 0.25,
    });
    const forecast = { known: true, at: 100 + year - 1 };
    expect(concernOf(judgement({ forecast, chart }), 100)).toEqual({ class: 3, measure: 1 - year });
    expect(concernOf(judgement({ forecast: { known: true, at: 100 + year }, chart }), 100).class).toBe(1);
    expect(concernOf(judgement({ status: "question", chart }), 0)).toEqual({ class: 2, measure: 0.25 });
    expect(concernOf(judgement({}), 0)).toEqual({ class: 0, measure: -7 });
    expect(concernOf(judgement({ chart: { ...chart, average: new Float64Array(0) } }), 0)).toEqual({
      class: 1,
      measure: 0,
    });
  });

  it("orders by class, then by measure, the greatest first", () => {
    const list = [
      { class: 1, measure: 0.1 },
      { class: 4, measure: 0.2 },
      { class: 1, measure: 0.9 },
    ] as const;
    expect([...list].sort(compareConcern)).toEqual([list[1], list[2], list[0]]);
  });
});
