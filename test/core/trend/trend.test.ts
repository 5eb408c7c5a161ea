import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { worseSince } from "../../../src/core/trend/change-date.js";
import { compareConcern, concernOf } from "../../../src/core/trend/concern.js";
import { fleetScatter } from "../../../src/core/trend/fleet-scatter.js";
import { regimesOf } from "../../../src/core/trend/regime.js";
import { judgeTrend, type TrendPoint, type TrendRequest } from "../../../src/core/trend/trend.js";
import { flightRecord } from "../../bench/flight-record.js";

const DAY_S = 86_400;

/** Readings of 10 mOhm with the given scatter and departure of the logarithm, a flight every third day. */
function points(count: number, departure: (index: number) => number, scatter = 0.08, seed = 4): TrendPoint[] {
  const z = flightRecord({ flightCount: count, phi: 0, outlierShare: 0 }, randomGenerator(seed));
  return Array.from(z, (each, index) => {
    const value = 0.01 * Math.exp(scatter * each + departure(index));
    return { atS: 1.77e9 + 3 * DAY_S * index, value, u: 0.05 * value };
  });
}

const judge = (list: TrendPoint[], rest: Partial<TrendRequest> = {}) =>
  judgeTrend({ points: list, worse: "up", limit: { worseBy: 0.2 }, ...rest });

describe("judgeTrend", () => {
  it("judgeTrend() of twelve flights gathers the baseline and says how many are wanting", () => {
    const judgement = judge(points(12, () => 0));
    expect(judgement).toMatchObject({ status: "gathering", baselineWanting: 8, chart: null, limit: null });
    expect(judgement.level!.low).toBeLessThan(0.0105);
    expect(judgement.level!.high).toBeGreaterThan(0.0095);
  });

  it("judgeTrend() of a level that rises by half raises the alarm, dates it and forecasts the limit as reached", () => {
    const judgement = judge(points(60, (index) => Math.max(0, index - 30) * 0.015));
    expect(judgement.status).toBe("alarm");
    const worse = judgement.alarms.find((alarm) => alarm.code === "level-worse");
    if (worse?.code !== "level-worse") throw new Error("no alarm");
    expect(worse.standing).toBe(true);
    expect(worse.flight).toBeGreaterThan(30);
    expect(worse.flight).toBeLessThan(50);
    expect(worse.onset).toBeLessThanOrEqual(worse.flight);
    expect(judgement.alarms.some((alarm) => alarm.code === "limit-reached" && alarm.sure)).toBe(true);
    if (!judgement.forecast?.known) throw new Error("no forecast");
    expect(judgement.forecast.at).toBeLessThan(1.77e9 + 60 * 3 * DAY_S);
  });

  it("judgeTrend() mirrors: a current that falls is judged as a resistance that rises", () => {
    const rising = points(60, (index) => Math.max(0, index - 30) * 0.015);
    const falling = rising.map((point) => ({ ...point, value: 1 / point.value, u: point.u / point.value ** 2 }));
    const up = judge(rising);
    const down = judge(falling, { worse: "down" });
    expect(down.status).toBe(up.status);
    expect(down.chart!.averageLimit * up.chart!.averageLimit).toBeCloseTo(1, 9);
    expect(down.alarms[0]).toMatchObject({ code: "level-worse", flight: (up.alarms[0] as { flight: number }).flight });
  });

  it("judgeTrend() asks about an exchange that nobody logged and starts a new baseline there", () => {
    const judgement = judge(points(48, (index) => (index >= 40 ? Math.log(0.75) : 0)));
    expect(judgement.status).toBe("question");
    expect(judgement.questions).toHaveLength(1);
    expect(Math.abs(judgement.questions[0].firstFlight - 40)).toBeLessThanOrEqual(1);
    expect(judgement.questions[0].change.low).toBeLessThan(-0.25);
    expect(judgement.questions[0].change.high).toBeGreaterThan(-0.25);
    expect(judgement.regimeStart).toBe(judgement.questions[0].firstFlight);
    expect(judgement.baselineWanting).toBe(20 - (48 - judgement.regimeStart));
  });

  it("judgeTrend() of a baseline that always reads the same goes by the stated uncertainty: it does not call it steady", () => {
    const rounded = (departure: (index: number) => number) =>
      judge(points(50, () => 0).map(({ atS }, index) => ({ atS, value: 0.01 * (1 + departure(index)), u: 0.0005 })));
    const risen = rounded((index) => (index < 30 ? 0 : 0.5));
    expect(risen.status).toBe("alarm");
    expect(risen.alarms[0]).toMatchObject({ code: "level-worse", onset: 30, standing: true });
    expect(risen.chart!.sigma).toBeCloseTo(0.05, 12);
    // A last digit that changes is nothing beside 5 %.
    expect(rounded((index) => (index < 30 ? 0 : 0.01)).status).toBe("steady");
    expect(rounded((index) => (index < 42 ? 0 : -0.5)).status).toBe("question");
  });

  it("judgeTrend() sets one flight with a loose terminal apart and raises no alarm for it", () => {
    const judgement = judge(points(40, (index) => (index === 33 ? Math.log(1.8) : 0)));
    expect(judgement.status).toBe("steady");
    expect(judgement.outlying.map((each) => each.flight)).toEqual([33]);
    expect(judgement.outlying[0].change).toBeGreaterThan(0.4);
  });

  it("judgeTrend() takes an absolute limit as it stands", () => {
    expect(
      judge(
        points(40, () => 0),
        { limit: { value: 0.009 } },
      ).alarms,
    ).toContainEqual(expect.objectContaining({ code: "limit-reached", limit: 0.009 }));
  });

  it("judgeTrend() does not depend on the unit of the readings or the origin of time", () => {
    const list = points(50, (index) => 0.004 * index);
    const other = list.map(({ atS, value, u }) => ({ atS: atS - 1.77e9, value: 1000 * value, u: 1000 * u }));
    const plain = judge(list);
    const moved = judge(other);
    expect(moved.chart!.averageLimit).toBeCloseTo(1000 * plain.chart!.averageLimit, 6);
    expect(moved.alarms.map((alarm) => alarm.code)).toEqual(plain.alarms.map((alarm) => alarm.code));
    expect(moved.slope).toEqual(expect.objectContaining({ known: plain.slope!.known }));
  });

  it("judgeTrend() refuses readings that are not positive and flights out of order", () => {
    const list = points(5, () => 0);
    expect(() => judge([{ ...list[0], value: 0 }])).toThrow(
      "Cannot judge a trend: values and uncertainties must be positive, got 0",
    );
    expect(() => judge([list[1], list[0]])).toThrow("Cannot judge a trend: flights must be in the order of time");
  });
});

describe("judgeTrend() of many records", () => {
  const logsOf = (seed: number) =>
    flightRecord(
      { flightCount: 70, phi: 0.2, outlierShare: 0.03, departure: (k) => 0.05 * Math.max(0, k - 15 - (seed % 30)) },
      randomGenerator(seed),
    ).map((z) => 0.06 * z);
  const judged = (seed: number, sign = 1) =>
    judgeTrend({
      points: Array.from(logsOf(seed), (log, k) => {
        return { atS: DAY_S * k, value: 0.01 * Math.exp(sign * log), u: 0.0005 };
      }),
      worse: sign > 0 ? "up" : "down",
    });
  const regimesAt = (seed: number) =>
    regimesOf(
      logsOf(seed).map((log) => log + Math.log(0.01)),
      { baselineFlights: 20, questionRate: 0.18 },
    ).regimes;

  it("dates an alarm by the level fit, or by the last flight at which the cumulative sum was nothing", () => {
    const counts = { fit: 0, sum: 0 };
    for (let seed = 1; seed <= 120; seed++) {
      const { alarms, chart } = judged(seed);
      const alarm = alarms.find(({ code }) => code === "level-worse");
      if (alarm?.code !== "level-worse") continue;
      const regime = regimesAt(seed).at(-1)!;
      const since = worseSince(regime.charts!.z, regime.phi);
      const byFit = since !== null && since > 0 && regime.start + since <= alarm.flight;
      const calm = Array.from(chart!.sum.keys()).filter(
        (k) => k < alarm.flight - chart!.firstFlight && !(chart!.sum[k]! > 0),
      );
      const bySum = chart!.firstFlight + (calm.length === 0 ? 0 : calm.at(-1)! + 1);
      expect(alarm.onset, `seed ${seed}`).toBe(byFit ? regime.start + since : bySum);
      counts[byFit ? "fit" : "sum"] += 1;
      // The alarm is the first flight whose average passes the limit.
      const first = chart!.average.findIndex((level) => level > chart!.averageLimit);
      expect(alarm.flight).toBe(chart!.firstFlight + first);
      expect(alarm.standing).toBe(chart!.average.at(-1)! > chart!.averageLimit);
    }
    expect(counts.fit).toBeGreaterThan(10);
    expect(counts.sum).toBeGreaterThan(3);
  });

  it("sets apart what stands four scatters off the middle of three flights on either side, up or down", () => {
    let found = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const wanted = regimesAt(seed).flatMap(({ start, charts }) => {
        const z = Array.from(charts?.z ?? []);
        return z.flatMap((own, k) => {
          const others = [...z.slice(Math.max(0, k - 3), k), ...z.slice(k + 1, k + 4)].sort((a, b) => a - b);
          const half = others.length >> 1;
          const middle = others.length % 2 === 1 ? others[half]! : (others[half - 1]! + others[half]!) / 2;
          return Math.abs(own - middle) > 4 ? [start + k] : [];
        });
      });
      for (const sign of [1, -1]) {
        expect(
          judged(seed, sign).outlying.map(({ flight }) => flight),
          `seed ${seed}`,
        ).toEqual(wanted);
      }
      found += wanted.length;
    }
    expect(found).toBeGreaterThan(20);
  });

  it("forecasts, at a brief look, where the average is half way to its limit or further", () => {
    const seen = { left: 0, told: 0 };
    for (let seed = 1; seed <= 60; seed++) {
      const list = points(60, (index) => 0.0004 * (seed % 12) * Math.max(0, index - 30), 0.05, seed);
      const [full, brief] = [false, true].map((isBrief) => judge(list, { brief: isBrief }));
      const { average, baseline, averageLimit } = full!.chart ?? {
        average: new Float64Array(0),
        baseline: 1,
        averageLimit: 2,
      };
      const share = average.length === 0 ? 0 : Math.log(average.at(-1)! / baseline) / Math.log(averageLimit / baseline);
      expect(brief!.forecast, `seed ${seed}`).toEqual(share < 0.5 ? null : full!.forecast);
      expect([brief!.slope, full!.slope === null]).toEqual([null, false]);
      seen[share < 0.5 ? "left" : "told"] += 1;
    }
    expect(Math.min(seen.left, seen.told)).toBeGreaterThan(10);
    // Nothing is drawn of a baseline that is only just complete, or not yet.
    for (const count of [15, 20]) {
      expect(
        judge(
          points(count, () => 0),
          { brief: true, limit: { value: 0.02 } },
        ).forecast,
      ).toBeNull();
      expect(
        judge(
          points(count, () => 0),
          { limit: { value: 0.02 } },
        ).forecast,
      ).not.toBeNull();
    }
  });

  it("asks for as long as the flight at which it was found is at most twenty ago", () => {
    const list = points(100, (index) => (index >= 40 ? Math.log(0.7) : 0), 0.05);
    const { foundAt } = judge(list).questions[0]!;
    for (const [count, status] of [
      [foundAt + 20, "question"],
      [foundAt + 21, "steady"],
    ] as const) {
      const judgement = judge(list.slice(0, count), { limit: { worseBy: 9 } });
      expect(judgement.questions).toHaveLength(1);
      expect(judgement.status, `${count} flights`).toBe(
        status === "steady" && judgement.chart === null ? "gathering" : status,
      );
    }
  });
});

describe("fleetScatter", () => {
  const fleet = (count: number, scatter: (battery: number) => number) => {
    const generator = randomGenerator(14);
    return Array.from({ length: count }, (_, battery) =>
      flightRecord({ flightCount: 25, phi: 0.3, outlierShare: 0.02 }, generator).map((z) => scatter(battery) * z),
    );
  };

  it("fleetScatter() of forty batteries finds their common scatter and correlation", () => {
    const common = fleetScatter(
      fleet(40, () => 0.1),
      20,
    )!;
    expect(common.sigma).toBeGreaterThan(0.085);
    expect(common.sigma).toBeLessThan(0.115);
    expect(Math.abs(common.correlation.value - 0.3)).toBeLessThan(0.12);
  });

  it("fleetScatter() of five batteries, or of batteries that scatter unlike each other, is not known", () => {
    expect(
      fleetScatter(
        fleet(5, () => 0.1),
        20,
      ),
    ).toBeNull();
    expect(
      fleetScatter(
        fleet(40, (battery) => (battery % 2 === 0 ? 0.03 : 0.15)),
        20,
      ),
    ).toBeNull();
  });
});

describe("concernOf", () => {
  it("concernOf() puts a battery at its limit before one in alarm, one in control and one too young", () => {
    const now = 1.77e9 + 200 * DAY_S;
    const reached = judge(points(60, (index) => Math.max(0, index - 30) * 0.02));
    const worse = judge(
      points(60, (index) => (index > 40 ? 0.13 : 0), 0.05),
      { limit: { worseBy: 0.3 } },
    );
    const steady = judge(points(60, () => 0));
    const young = judge(points(5, () => 0));
    expect([reached.status, worse.status, steady.status, young.status]).toEqual([
      "alarm",
      "alarm",
      "steady",
      "gathering",
    ]);
    const concerns = [young, steady, worse, reached].map((judgement) => concernOf(judgement, now));
    expect(concerns.map((concern) => concern.class)).toEqual([0, 1, 4, 5]);
    expect([...concerns].sort(compareConcern)[0].class).toBe(5);
  });
});
