/**
 * Writes src/core/trend/control-limit-table.ts: for each chart, correlation and baseline length, the limits at which 18 and
 * 2 % of simulated batteries in control are called within the 80 flights after their baseline, the stricter of no
 * outliers and 2 % outliers of 5 scatters. Run: npx tsx test/bench/make-control-limits.ts
 */
import { writeFileSync } from "node:fs";
import { randomGenerator } from "../../src/core/statistics/random.js";
import type { ChartKind } from "../../src/core/trend/chart-kind.js";
import { flightCharts } from "../../src/core/trend/flight-charts.js";
import { shiftLooks } from "../../src/core/trend/level-shift.js";
import { flightRecord } from "./flight-record.js";

const RATES = [0.18, 0.02];
const PHI = [0, 0.15, 0.3, 0.45, 0.6];
const BASELINE_FLIGHTS = [10, 15, 20, 30, 50];
const WATCHED = 80;
const RECORDS = 20_000;
const SEED = 20_260_301;
const CHARTS: readonly ChartKind[] = ["shewhart", "ewma", "cusum", "level-shift"];

const largest = (trace: ArrayLike<number>) => {
  let most = Number.NEGATIVE_INFINITY;
  for (let index = 0; index < trace.length; index++) if (trace[index] > most) most = trace[index];
  return most;
};

/** Limits of each chart, one for each rate. */
function limitsOf(phi: number, baselineFlights: number, sigmaKnown: boolean): Record<ChartKind, number[]> {
  const limits = Object.fromEntries(CHARTS.map((chart) => [chart, RATES.map(() => 0)])) as Record<ChartKind, number[]>;
  for (const outlierShare of [0, 0.02]) {
    const generator = randomGenerator(SEED);
    const peaks = new Map(CHARTS.map((chart) => [chart, new Float64Array(RECORDS)]));
    for (let record = 0; record < RECORDS; record++) {
      const flights = flightRecord({ flightCount: baselineFlights + WATCHED, phi, outlierShare }, generator);
      const charts = flightCharts(flights, { baselineFlights, ...(sigmaKnown ? { sigma: 1 } : {}) });
      peaks.get("shewhart")![record] = largest(charts.shewhart);
      peaks.get("ewma")![record] = largest(charts.ewma);
      peaks.get("cusum")![record] = largest(charts.cusum);
      peaks.get("level-shift")![record] = largest(shiftLooks(charts.z, phi, baselineFlights).map((look) => look.t));
    }
    for (const chart of CHARTS) {
      const sorted = peaks.get(chart)!.sort();
      limits[chart] = RATES.map((rate, index) =>
        Math.max(limits[chart][index], sorted[Math.floor((1 - rate) * RECORDS)]),
      );
    }
  }
  return limits;
}

const emptyTable = () => Object.fromEntries(CHARTS.map((chart) => [chart, RATES.map((): number[][] => [])]));
const table: Record<string, Record<string, number[][][]>> = { own: emptyTable(), known: emptyTable() };
for (const scale of ["own", "known"] as const) {
  for (const count of BASELINE_FLIGHTS) {
    const columns = PHI.map((phi) => limitsOf(phi, count, scale === "known"));
    for (const chart of CHARTS) {
      RATES.forEach((_, rate) => {
        table[scale][chart][rate].push(columns.map((column) => Number(column[chart][rate].toFixed(3))));
      });
    }
    process.stderr.write(`${scale} ${count}\n`);
  }
}

writeFileSync(
  new URL("../../src/core/trend/control-limit-table.ts", import.meta.url),
  `import type { LimitTable } from "./chart-kind.js";

/**
 * Limits at which 18 and 2 % of batteries in control are called in the ${WATCHED} flights after their baseline.
 *
 * Written by test/bench/make-control-limits.ts: ${RECORDS} simulated batteries a cell, seed ${SEED}.
 */
export const CONTROL_LIMITS: LimitTable = ${JSON.stringify({ rates: RATES, baselineFlights: BASELINE_FLIGHTS, phi: PHI, limits: table })};
`,
);
