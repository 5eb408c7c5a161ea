/**
 * Run lengths of the charts, false calls, level shifts, slopes and forecasts on simulated batteries.
 * Run: npm run bench:trend
 *
 * One flight's scatter is 10 % unless stated. "step": +20 % at the first flight after a baseline of 20; "ramp": +0.2 % a
 * flight from there. Runs are cut at 400 flights.
 */

import { randomGenerator } from "../../src/core/statistics/random.js";
import type { ChartKind } from "../../src/core/trend/chart-kind.js";
import { controlLimit, FALSE_CALL_RATE, QUESTION_RATE } from "../../src/core/trend/control-limit.js";
import { flightCharts } from "../../src/core/trend/flight-charts.js";
import { flightCorrelation } from "../../src/core/trend/flight-correlation.js";
import { limitForecast } from "../../src/core/trend/forecast.js";
import { shiftLooks } from "../../src/core/trend/level-shift.js";
import { flightSlope } from "../../src/core/trend/slope.js";
import { flightRecord } from "./flight-record.js";
import { likelihoodRatio } from "./trend-bound.js";

const BASELINE = 20;
const FIRST_HUNDRED = 80;
const CAP = 400;
const NULL_RECORDS = 6000;
const RECORDS = 3000;
const SCATTER = 0.1;
const generator = randomGenerator(Number(process.env.SEED ?? 41));

interface Cell {
  readonly name: string;
  readonly phi: number;
  readonly outlierShare: number;
}
const CELLS: readonly Cell[] = [
  { name: "independent", phi: 0, outlierShare: 0 },
  { name: "independent, 2 % outliers", phi: 0, outlierShare: 0.02 },
  { name: "correlated 0.3", phi: 0.3, outlierShare: 0 },
  { name: "correlated 0.3, 2 % outliers", phi: 0.3, outlierShare: 0.02 },
  { name: "correlated 0.5, 2 % outliers", phi: 0.5, outlierShare: 0.02 },
];

interface Rule {
  readonly name: string;
  /** Flights after the baseline until the first call; CAP + 1 where none comes. */
  readonly runLength: (record: Float64Array, phi: number) => number;
}

const firstAbove = (trace: Float64Array, limit: number) => {
  const index = trace.findIndex((value) => value > limit);
  return index < 0 ? CAP + 1 : index + 1;
};

type Chart = "shewhart" | "ewma" | "cusum";
/** Limits for a mean run of 500 flights with known mean and scatter, independent flights; EWMA weight 0.15. */
const TEXTBOOK = { shewhart: 2.885, ewma: 0.753, cusum: 4.407 };

const limitOf = (chart: ChartKind, phi: number, sigmaKnown: boolean) => {
  const falseCallRate = chart === "level-shift" ? QUESTION_RATE : FALSE_CALL_RATE;
  return controlLimit(chart, { phi, baselineFlights: BASELINE, sigmaKnown, falseCallRate });
};

function textbook(chart: Chart): Rule {
  return {
    name: `${chart}, textbook`,
    runLength: (record) => firstAbove(flightCharts(record, { baselineFlights: BASELINE })[chart], TEXTBOOK[chart]),
  };
}

function own(chart: Chart): Rule {
  return {
    name: `${chart}, own 20 flights`,
    runLength: (record) => {
      const charts = flightCharts(record, { baselineFlights: BASELINE });
      const phi = flightCorrelation(charts.baseline.r1, BASELINE);
      return firstAbove(charts[chart], limitOf(chart, phi, false));
    },
  };
}

function fleet(chart: Chart): Rule {
  return {
    name: `${chart}, fleet known`,
    runLength: (record, phi) => {
      const charts = flightCharts(record, { baselineFlights: BASELINE, sigma: 1 });
      return firstAbove(charts[chart], limitOf(chart, phi, true));
    },
  };
}

const CHARTS: readonly Chart[] = ["shewhart", "ewma", "cusum"];
const RULES = [...CHARTS.map(textbook), ...CHARTS.map(own), ...CHARTS.map(fleet)];

const sorted = (values: number[]) => values.sort((a, b) => a - b);
const mean = (values: number[]) => values.reduce((sum, value) => sum + value, 0) / values.length;
const quantile = (values: number[], share: number) =>
  values[Math.min(values.length - 1, Math.floor(share * values.length))];
const percent = (share: number, digits = 0) => `${(100 * share).toFixed(digits)} %`;
const row = (...cells: string[]) =>
  console.log(cells.map((cell, index) => (index === 0 ? cell.padEnd(26) : cell.padStart(14))).join(""));

function records(count: number, cell: Cell, flights: number, departure?: (index: number) => number): Float64Array[] {
  return Array.from({ length: count }, () =>
    flightRecord(
      { flightCount: flights, phi: cell.phi, outlierShare: cell.outlierShare, ...(departure ? { departure } : {}) },
      generator,
    ),
  );
}

const STEP = (index: number) => (index >= BASELINE ? 0.2 / SCATTER : 0);
const RAMP = (index: number) => (Math.max(0, index - BASELINE + 1) * 0.002) / SCATTER;

for (const cell of CELLS) {
  console.log(`\nflights ${cell.name}; baseline ${BASELINE} flights`);
  row("chart", "false in 100", "+-", "median run", "step mean", "step p95", "ramp mean", "ramp at");
  const calm = records(NULL_RECORDS, cell, BASELINE + CAP);
  const step = records(RECORDS, cell, BASELINE + CAP, STEP);
  const ramp = records(RECORDS, cell, BASELINE + CAP, RAMP);
  for (const rule of RULES) {
    const runs = sorted(calm.map((record) => rule.runLength(record, cell.phi)));
    const falseShare = runs.filter((run) => run <= FIRST_HUNDRED).length / runs.length;
    const steps = sorted(step.map((record) => rule.runLength(record, cell.phi)));
    const ramps = ramp.map((record) => rule.runLength(record, cell.phi));
    const median = quantile(runs, 0.5);
    row(
      rule.name,
      percent(falseShare, 1),
      percent(1.96 * Math.sqrt((falseShare * (1 - falseShare)) / runs.length), 1),
      median > CAP ? `> ${CAP}` : String(median),
      mean(steps).toFixed(1),
      String(quantile(steps, 0.95)),
      mean(ramps).toFixed(0),
      `+${(0.2 * mean(ramps)).toFixed(1)} %`,
    );
  }
  const bound = likelihoodRatio({ phi: cell.phi, baselineFlights: BASELINE, slope: 0.002 / SCATTER });
  const peaks = sorted(
    records(NULL_RECORDS, { ...cell, outlierShare: 0 }, BASELINE + FIRST_HUNDRED).map((record) =>
      Math.max(...bound(record)),
    ),
  );
  const limit = quantile(peaks, 0.82);
  const clean = records(RECORDS, { ...cell, outlierShare: 0 }, BASELINE + CAP, RAMP).map((record) =>
    firstAbove(bound(record), limit),
  );
  row(
    "bound (told all but level)",
    "18.0 %",
    "",
    "",
    "",
    "",
    mean(clean).toFixed(0),
    `+${(0.2 * mean(clean)).toFixed(1)} %`,
  );
}

console.log("\nunlogged exchange, level -25 %, after 10 to 60 flights beyond the baseline; found within 3 flights");
row("scatter", "correlation", "found", "+-", "asked in vain", "(in 100)");
for (const scatter of [0.05, 0.08, 0.1, 0.15]) {
  for (const phi of [0, 0.3]) {
    const limit = limitOf("level-shift", phi, false);
    let found = 0;
    for (let trial = 0; trial < RECORDS; trial++) {
      const at = BASELINE + 10 + Math.floor(50 * generator.uniform());
      const departure = (index: number) => (index >= at ? Math.log(0.75) / scatter : 0);
      const record = flightRecord({ flightCount: at + 3, phi, outlierShare: 0, departure }, generator);
      const { z } = flightCharts(record, { baselineFlights: BASELINE });
      if (shiftLooks(z, phi, at).some((look) => look.t > limit)) found++;
    }
    const vain = records(RECORDS, { name: "", phi, outlierShare: 0.02 }, BASELINE + FIRST_HUNDRED).filter((record) =>
      shiftLooks(flightCharts(record, { baselineFlights: BASELINE }).z, phi, BASELINE).some((look) => look.t > limit),
    ).length;
    const share = found / RECORDS;
    row(
      percent(scatter),
      String(phi),
      percent(share),
      percent(1.96 * Math.sqrt((share * (1 - share)) / RECORDS)),
      percent(vain / RECORDS, 1),
    );
  }
}

console.log("\nslope of +0.2 % a flight at 10 % scatter, correlation 0.3");
row("flights", "shown", "covers truth", "excludes 0");
for (const flights of [20, 50, 100]) {
  const slopes = Array.from({ length: 400 }, () =>
    flightSlope(
      flightRecord(
        { flightCount: flights, phi: 0.3, outlierShare: 0, departure: (index) => (0.002 * index) / SCATTER },
        generator,
      ).map((z) => SCATTER * z),
    ),
  );
  const shown = slopes.filter((slope) => slope.known);
  const covering = shown.filter((slope) => slope.low <= 0.002 && slope.high >= 0.002).length;
  const share = (count: number) => (shown.length === 0 ? "" : percent(count / shown.length));
  row(
    String(flights),
    percent(shown.length / slopes.length),
    share(covering),
    share(shown.filter((slope) => slope.low > 0).length),
  );
}

console.log("\nforecast of +50 %, 10 % scatter, correlation 0.3, 2 % outliers; 95 % interval");
row("course", "known", "covers truth", "too late", "too early");
for (const [name, flights, onset, slope] of [
  ["straight, 60 flights", 60, 0, 0.004],
  ["straight, 100 flights", 100, 0, 0.002],
  ["from flight 50 of 100", 100, 50, 0.006],
  ["flat, 60 flights", 60, 0, 0],
] as const) {
  const logLimit = Math.log(1.5);
  const truth = slope === 0 ? Number.POSITIVE_INFINITY : onset + logLimit / slope;
  const forecasts = Array.from({ length: 500 }, () => {
    const departure = (index: number) => (Math.max(0, index - onset) * slope) / SCATTER;
    const flightsOf = flightRecord({ flightCount: flights, phi: 0.3, outlierShare: 0.02, departure }, generator);
    return limitForecast({
      moments: flightsOf.map((_, index) => index),
      logReadings: flightsOf.map((z) => SCATTER * z),
      logLimit,
    });
  });
  const known = forecasts.filter((forecast) => forecast.known);
  const share = (count: number) => (known.length === 0 ? "" : percent(count / known.length));
  row(
    name,
    percent(known.length / forecasts.length),
    share(known.filter((forecast) => forecast.low <= truth && forecast.high >= truth).length),
    share(known.filter((forecast) => forecast.low > truth).length),
    share(known.filter((forecast) => forecast.high < truth).length),
  );
}
