import { describe, expect, it } from "vitest";
import { type FlightReading, judgeBattery, resistanceSeries } from "../../../src/core/trend/battery-trend.js";
import { compareConcern } from "../../../src/core/trend/concern.js";
import { type ConditionedReading, withNormalized } from "../../../src/core/trend/normalized-readings.js";
import { judgeTrend } from "../../../src/core/trend/trend.js";

function reading(flight: number, rest: Partial<ConditionedReading> = {}): ConditionedReading {
  return {
    atS: 1.77e9 + 259_200 * flight,
    value: 0.01 * (1 + 0.02 * Math.sin(7 * flight)),
    u: 5e-4,
    quantity: "internal-resistance",
    load: null,
    afterS: 1,
    hash: `flight-${flight}`,
    report: null,
    temperatureC: -10,
    stateOfCharge: 1,
    ...rest,
  };
}
const flights = (count: number, rest: (flight: number) => Partial<ConditionedReading> = () => ({})) =>
  Array.from({ length: count }, (_, flight) => reading(flight, rest(flight)));
const reasons = (series: { apart: readonly { reason: string }[] }) => series.apart.map((each) => each.reason);

describe("resistanceSeries", () => {
  it("resistanceSeries() compares only readings at equal times after the step", () => {
    const series = resistanceSeries(flights(10, (flight) => (flight === 4 ? { afterS: 10 } : {})));
    expect(series.points).toHaveLength(9);
    expect(series.afterS).toBe(1);
    expect(reasons(series)).toEqual(["other-time"]);
  });

  it("resistanceSeries() prefers the battery alone and sets apart flights whose path resistance is unknown", () => {
    const series = resistanceSeries(flights(10, (flight) => (flight === 2 ? { quantity: "source-resistance" } : {})));
    expect(series.quantity).toBe("internal-resistance");
    expect(reasons(series)).toEqual(["other-quantity"]);
  });

  it("resistanceSeries() rests on the normalised resistance of half of the flights, else on the battery's own, else on the source's", () => {
    const all = (counts: Readonly<Record<string, number>>) =>
      flights(10).flatMap((each, flight) =>
        Object.entries(counts).flatMap(([quantity, count]) =>
          flight < count ? [{ ...each, quantity: quantity as FlightReading["quantity"] }] : [],
        ),
      );
    const chosen = (counts: Readonly<Record<string, number>>) => {
      const { quantity, normalized, points } = resistanceSeries(all({ "source-resistance": 10, ...counts }));
      return [quantity, normalized, points.length];
    };
    expect(chosen({ "normalized-resistance": 5, "internal-resistance": 9 })).toEqual(["internal-resistance", true, 5]);
    expect(chosen({ "normalized-resistance": 4, "internal-resistance": 9 })).toEqual(["internal-resistance", false, 9]);
    expect(chosen({ "internal-resistance": 5 })).toEqual(["internal-resistance", false, 5]);
    expect(chosen({ "internal-resistance": 4 })).toEqual(["source-resistance", false, 10]);
  });

  it("resistanceSeries() says of each flight set apart why", () => {
    const series = resistanceSeries([
      ...flights(8, () => ({ quantity: "normalized-resistance" })),
      reading(20),
      reading(21, { quantity: "source-resistance" }),
      reading(22, { quantity: "normalized-resistance", afterS: 10 }),
      reading(23, { quantity: "normalized-resistance", u: 0 }),
      // Told in two ways, neither of them the trend's: once.
      reading(24),
      reading(24, { quantity: "source-resistance" }),
      // Told in the trend's way too: not apart.
      reading(3),
    ]);
    expect(series.apart.map(({ reading: { hash }, reason }) => [hash, reason])).toEqual([
      ["flight-20", "not-normalized"],
      ["flight-21", "not-normalized"],
      ["flight-22", "other-time"],
      ["flight-23", "without-uncertainty"],
      ["flight-24", "not-normalized"],
    ]);
    const internal = resistanceSeries([
      ...flights(8),
      reading(20, { quantity: "normalized-resistance" }),
      reading(21, { quantity: "source-resistance" }),
    ]);
    expect(reasons(internal)).toEqual(["normalized", "other-quantity"]);
  });

  it("resistanceSeries() goes by the time after the step that most flights have", () => {
    for (const order of [
      [10, 1, 1],
      [1, 1, 10],
      [1, 10, 1],
    ]) {
      const series = resistanceSeries(flights(9, (flight) => ({ afterS: order[flight % 3]! })));
      expect([series.afterS, series.points.length]).toEqual([1, 6]);
    }
    expect(resistanceSeries([]).afterS).toBeNull();
  });

  it("resistanceSeries() uses readings above nothing, below 1e12, and of an uncertainty below three times as much", () => {
    const isUsed = (value: number, u: number) => resistanceSeries([reading(0, { value, u })]).points.length === 1;
    expect([isUsed(0, 1), isUsed(-1, 1), isUsed(1e-9, 1e-10)]).toEqual([false, false, true]);
    expect([isUsed(1, 0), isUsed(1, 2.99), isUsed(1, 3)]).toEqual([false, true, false]);
    expect([isUsed(0.99e12, 1), isUsed(1e12, 1)]).toEqual([true, false]);
  });

  it("resistanceSeries() of flights without an uncertainty sets them apart", () => {
    expect(reasons(resistanceSeries(flights(6, (flight) => (flight === 0 ? { u: 0 } : {}))))).toEqual([
      "without-uncertainty",
    ]);
  });
});

describe("withNormalized", () => {
  it("withNormalized() brings a cold lead-acid battery's resistance down by its temperature law", () => {
    const { readings, note } = withNormalized([reading(0)], "lead-acid");
    const brought = readings.find((each) => each.quantity === "normalized-resistance")!;
    // Arrhenius by hand: exp(650 K (1/263.15 K - 1/293.15 K)) = 1.2876.
    expect(reading(0).value / brought.value).toBeCloseTo(1.2876, 3);
    expect(brought.u / brought.value).toBeGreaterThan(reading(0).u / reading(0).value);
    expect(note).toMatchObject({ chemistry: "lead-acid", flightCount: 1, chargeAssumedCount: 0 });
  });

  it("withNormalized() leaves alone what it cannot bring: no temperature, no chemistry", () => {
    const list = flights(4, (flight) => (flight === 1 ? { temperatureC: null } : {}));
    expect(withNormalized(list, null)).toEqual({ readings: list, note: null });
    const series = resistanceSeries(withNormalized(list, "lead-acid").readings);
    expect(series.normalized).toBe(true);
    expect(series.points).toHaveLength(3);
    expect(series.apart.map(({ reading: apart, reason }) => [apart.hash, reason])).toEqual([
      ["flight-1", "not-normalized"],
    ]);
  });

  it("withNormalized() keeps what a recording's own analysis has brought to the reference", () => {
    const own: ConditionedReading = { ...reading(0), quantity: "normalized-resistance", value: 0.0077 };
    const { readings } = withNormalized([reading(0), own], "lead-acid");
    expect(readings.filter((each) => each.quantity === "normalized-resistance")).toEqual([own]);
  });
});

describe("judgeBattery", () => {
  const current = (flight: number, value: number): FlightReading => ({
    ...reading(flight),
    quantity: "load-current",
    load: "stall-vane",
    afterS: null,
    value,
    u: 0.1,
  });

  it("judgeBattery() follows each load's current and alarms when a heater goes open", () => {
    const readings = flights(40).flatMap((each, flight) => [
      each,
      current(flight, (flight < 30 ? 3.2 : 1.6) * (1 + 0.03 * Math.sin(5 * flight))),
    ]);
    const trend = judgeBattery("B-1", readings, { nowS: 1.8e9 });
    const load = trend.series.find((series) => series.quantity === "load-current")!;
    expect(load).toMatchObject({ load: "stall-vane", worse: "down", judgement: { status: "alarm" } });
    const [alarm] = load.judgement.alarms;
    if (alarm?.code !== "level-worse") throw new Error("no alarm");
    expect(alarm.onset).toBe(30);
    expect(trend.concern.class).toBe(4);
    expect(trend.series[0]!.judgement.status).toBe("steady");
  });

  it("judgeBattery() lets 14 % of batteries be called by their resistance and shares 3 % over the rest, 17 % where it is alone", () => {
    const judged = (loads: readonly string[]) =>
      judgeBattery(
        "B-1",
        flights(30).flatMap((each, flight) => [
          each,
          ...loads.map((load) => ({ ...current(flight, 3 * (1 + 0.03 * Math.sin(5 * flight))), load })),
        ]),
        { nowS: 1.8e9 },
      ).series;
    for (const [loads, resistanceRate, otherRate] of [
      [[], 0.17, 0],
      [["a"], 0.14, 0.03],
      [["a", "b", "c"], 0.14, 0.01],
    ] as const) {
      for (const { unit, worse, points, judgement } of judged(loads)) {
        const own =
          unit === "Ohm"
            ? { falseCallRate: resistanceRate, limit: { worseBy: 0.2 } }
            : { falseCallRate: otherRate, questionRate: otherRate };
        const alone = judgeTrend({ points, worse, ...own });
        expect(judgement.chart!.averageLimit / alone.chart!.averageLimit).toBeCloseTo(1, 9);
        expect(judgement.limit).toEqual(alone.limit);
      }
    }
  });

  it("judgeBattery() gives the fleet's scatter to resistances alone, and everything else to all", () => {
    const readings = flights(30).flatMap((each, flight) => [
      each,
      current(flight, 3 * (1 + 0.03 * Math.sin(5 * flight))),
      { ...current(flight, 40 * (1 + 0.03 * Math.sin(3 * flight))), load: null, quantity: "endurance" as const },
    ]);
    const fleet = { sigma: 0.07, correlation: { value: 0.2, u: 0 } };
    const told = judgeBattery("B-1", readings, {
      nowS: 1.8e9,
      fleet,
      baselineFlights: 12,
      resistanceLimit: { worseBy: 0.3 },
      enduranceLimit: { value: 30 },
    }).series;
    expect(told.map(({ quantity, unit }) => [quantity, unit])).toEqual([
      ["internal-resistance", "Ohm"],
      ["endurance", "min"],
      ["load-current", "A"],
    ]);
    for (const { unit, judgement } of told) {
      const { chart, baselineFlights, slope, limit } = judgement;
      expect(baselineFlights).toBe(12);
      expect([chart!.sigma === 0.07, chart!.phi === 0.2], unit).toEqual([unit === "Ohm", unit === "Ohm"]);
      expect(slope).not.toBeNull();
      if (unit === "Ohm") expect(limit! / chart!.baseline).toBeCloseTo(1.3, 9);
      else expect(limit).toBe(unit === "min" ? 30 : null);
    }
    const plain = judgeBattery("B-1", readings, { nowS: 1.8e9, brief: true }).series;
    expect(plain.map(({ judgement }) => [judgement.slope, judgement.baselineFlights])).toEqual([
      [null, 20],
      [null, 20],
      [null, 20],
    ]);
    for (const { judgement, unit } of plain) expect(judgement.chart!.sigma, unit).not.toBe(0.07);
  });

  it("judgeBattery() is as worrying as the worst of its quantities", () => {
    const readings = flights(40).flatMap((each, flight) => [each, current(flight, flight < 30 ? 3.2 : 1.6)]);
    const worst = judgeBattery("B-1", readings, { nowS: 1.8e9 });
    const calm = judgeBattery("B-1", flights(40), { nowS: 1.8e9 });
    expect([worst.concern.class, calm.concern.class]).toEqual([4, 1]);
    const none = judgeBattery("B-2", [], { nowS: 1.8e9 });
    expect(
      [calm, none, worst].sort((a, b) => compareConcern(a.concern, b.concern)).map(({ concern }) => concern.class),
    ).toEqual([4, 1, 0]);
    expect(none.concern.measure).toBe(Number.NEGATIVE_INFINITY);
  });

  it("judgeBattery() holds the endurance against the required minutes", () => {
    const readings = flights(30).map((each, flight) => ({
      ...each,
      quantity: "endurance" as const,
      value: 40 - 0.6 * flight,
      u: 1,
    }));
    const trend = judgeBattery("B-1", readings, { nowS: 1.8e9, enduranceLimit: { value: 30 } });
    expect(trend.series[0]!.judgement.alarms).toContainEqual({ code: "limit-reached", limit: 30, sure: true });
    expect(trend.concern.class).toBe(5);
  });

  it("judgeBattery() of one flight tells of what it measured, and judges nothing", () => {
    const { series } = judgeBattery("B-1", [reading(0), current(0, 3)], { nowS: 1.8e9 });
    expect(series.map(({ quantity, points }) => [quantity, points.length])).toEqual([
      ["internal-resistance", 1],
      ["load-current", 1],
    ]);
    for (const { judgement } of series) expect(judgement.alarms).toEqual([]);
  });

  it("judgeBattery() of nothing has no series and asks for nothing", () => {
    expect(judgeBattery("B-1", [], { nowS: 0 })).toMatchObject({ series: [], concern: { class: 0 } });
  });
});
