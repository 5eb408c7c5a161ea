import { describe, expect, it } from "vitest";
import { randomGenerator } from "../../../src/core/statistics/random.js";
import { baselineOf } from "../../../src/core/trend/baseline.js";
import { controlLimit } from "../../../src/core/trend/control-limit.js";
import { flightCharts } from "../../../src/core/trend/flight-charts.js";
import { flightCorrelation, varianceOfMean } from "../../../src/core/trend/flight-correlation.js";
import { shiftLooks } from "../../../src/core/trend/level-shift.js";
import { regimesOf } from "../../../src/core/trend/regime.js";
import { flightRecord } from "../../bench/flight-record.js";

const FLEET = { sigma: 0.05, correlation: { value: 0.2, u: 0.05 } };
const mean = (values: Float64Array) => values.reduce((a, b) => a + b, 0) / values.length;

describe("regimesOf()", () => {
  it.each([
    ["the battery's own scatter", undefined],
    ["the fleet's scatter", FLEET],
  ])("splits at the first look beyond the limit for a question, in %s, and again in what follows", (_, fleet) => {
    let splits = 0;
    for (let seed = 1; seed <= 60; seed++) {
      const departure = (k: number) => (k < 31 ? 0 : k < 62 ? -1.8 : -3.4);
      const record = flightRecord({ flightCount: 90, phi: 0.2, outlierShare: 0, departure }, randomGenerator(seed));
      const logs = record.map((z) => 0.05 * z);
      const { regimes, shifts } = regimesOf(logs, {
        baselineFlights: 20,
        questionRate: 0.18,
        ...(fleet === undefined ? {} : { fleet }),
      });
      expect(regimes).toHaveLength(shifts.length + 1);
      expect(regimes[0]!.start).toBe(0);
      expect(regimes.at(-1)!.end).toBe(90);
      regimes.forEach(({ start, end, phi, charts }, k) => {
        const readings = logs.subarray(start);
        const count = Math.min(20, readings.length);
        const own = baselineOf(readings, count).r1;
        const wanted =
          count < 8
            ? (fleet?.correlation.value ?? flightCorrelation(0, 1))
            : flightCorrelation(own, count, fleet?.correlation);
        expect(phi).toBe(wanted);
        const options = { baselineFlights: 20, ...(fleet === undefined ? {} : { sigma: fleet.sigma }) };
        expect(charts).toEqual(end - start < 20 ? null : flightCharts(logs.subarray(start, end), options));
        if (readings.length < 20) return;
        const whole = flightCharts(readings, options);
        const limit = controlLimit("level-shift", {
          phi,
          baselineFlights: 20,
          sigmaKnown: fleet !== undefined,
          falseCallRate: 0.18,
        });
        const looks = shiftLooks(whole.z, phi, 20);
        const hit = looks.findIndex(({ t }) => t > limit);
        const shift = shifts[k];
        expect(shift !== undefined, `seed ${seed}, ${start}`).toBe(hit >= 0);
        if (shift === undefined) return;
        splits += 1;
        const split = looks[hit]!.firstFlight;
        expect([shift.firstFlight, shift.foundAt]).toEqual([start + split, start + 20 + hit]);
        expect(regimes[k + 1]!.start).toBe(start + split);
        // Up to twenty flights before, against those from the split to the one after which it was found.
        const before = Math.min(20, split);
        const after = readings.subarray(split, 20 + hit + 1);
        expect(shift.change).toBeCloseTo(mean(after) - mean(readings.subarray(split - before, split)), 12);
        const variance = varianceOfMean(after.length, phi) + varianceOfMean(before, phi);
        expect(shift.uChange).toBeCloseTo(whole.baseline.sigma * Math.sqrt(variance), 12);
      });
    }
    expect(splits).toBeGreaterThan(30);
  });

  it("tells the correlation by eight flights or more", () => {
    for (const count of [7, 8]) {
      const logs = Float64Array.from({ length: count }, (_, k) => 0.05 * Math.sin(0.9 * k));
      const { regimes } = regimesOf(logs, { baselineFlights: 20, questionRate: 0.18 });
      const own = flightCorrelation(baselineOf(logs, count).r1, count);
      const usual = flightCorrelation(0, 1);
      expect(Math.abs(own - usual)).toBeGreaterThan(0.01);
      expect(regimes[0]!.phi, `${count} flights`).toBe(count < 8 ? usual : own);
    }
  });
});
