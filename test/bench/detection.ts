/**
 * The bench of the detector: `npm run bench:detection -- --cells S,W --records 2000 --mode marked`.
 *
 * Every figure comes with its own 95 % limits; the raw results go to `.bench/`. See README.md beside this file.
 */
import { mkdirSync, writeFileSync } from "node:fs";
import { parseArgs } from "node:util";
import { type CellName, cellNames } from "./cells.js";
import { printTable } from "./detection-table.js";
import type { Knowledge } from "./everyday.js";
import type { EverydayResult } from "./everyday-study.js";
import { isStandIn } from "./ours.js";
import { performAll } from "./parallel.js";
import { tellRatio } from "./ratio-line.js";
import { type CellReport, reportCell } from "./report-cell.js";
import { FIRST_SCAN_SEED } from "./scan-threshold.js";
import type { MarkKind } from "./simulate.js";
import type { Trial } from "./trial.js";
import type { Task } from "./worker.js";

const { values } = parseArgs({
  options: {
    cells: { type: "string", default: "S,Q,W,A,F,R,G,I,N,O,L" },
    mode: { type: "string", default: "marked" },
    marks: { type: "string", default: "exact" },
    dips: { type: "string", default: "drawn" },
    records: { type: "string", default: "200" },
    "power-records": { type: "string" },
    "everyday-records": { type: "string" },
    "scan-records": { type: "string", default: "1000" },
    power: { type: "string", default: "0.95" },
    "false-alarm-rate": { type: "string", default: "0.01" },
    seed: { type: "string", default: "1" },
    workers: { type: "string", default: "1" },
    json: { type: "boolean", default: false },
  },
});

const recordCount = count("records", values.records);
const powerCount = Math.min(
  recordCount,
  count("power-records", values["power-records"] ?? String(Math.min(recordCount, 300))),
);
const everydayCount = count("everyday-records", values["everyday-records"] ?? String(Math.min(recordCount, 300)));
const scanCount = count("scan-records", values["scan-records"]);
if (scanCount < 100) fail(`--scan-records needs 100 or more for a threshold, got "${values["scan-records"]}"`);
const firstSeed = count("seed", values.seed);
const falseAlarmRate = Number(values["false-alarm-rate"]);
const power = Number(values.power);
const plainDips = oneOf("dips", values.dips, ["drawn", "plain"] as const)[0] === "plain";
const started = performance.now();

const file = `.bench/detection-${new Date().toISOString().replace(/[:.]/g, "-")}.json`;
mkdirSync(".bench", { recursive: true });

const reports: CellReport[] = [];
for (const knowledge of oneOf("mode", values.mode, ["marked", "cadence", "nothing"] as const)) {
  const kinds: readonly MarkKind[] =
    knowledge === "marked" ? oneOf("marks", values.marks, ["exact", "jittered"] as const) : ["none"];
  for (const marks of kinds) {
    for (const cell of cellNames(values.cells)) {
      reports.push(await benchCell(cell, knowledge, marks));
      save();
    }
  }
}
for (const one of reports) tellCell(one);
if (values.json) {
  process.stdout.write(
    `${JSON.stringify(reports.map(({ trials: _trials, everyday: _everyday, ...figures }) => figures))}\n`,
  );
} else {
  if (isStandIn()) process.stdout.write("NOTE: the detector is missing; a plain stand-in was judged instead.\n");
  printTable(reports, { falseAlarmRate, power });
  process.stdout.write(`\nRaw results: ${file}; ${((performance.now() - started) / 1000).toFixed(0)} s\n`);
}

/** The cell's lines of the table: losses are amplitudes, so that a decibel is a ratio of 1.12. */
function tellCell({
  cell,
  knowledge,
  lossDb,
  falseAlarms,
  depthErrorOverBound,
  predictedOverMeasured,
}: CellReport): void {
  const range = ({ low, high }: { low: number; high: number }, scale = 1): string =>
    ` [${(scale * low).toFixed(2)}, ${(scale * high).toFixed(2)}]`;
  const where = `${cell}, times ${knowledge === "marked" ? "marked" : knowledge === "cadence" ? "by cadence" : "unknown"}`;
  if (lossDb !== null)
    tellRatio({
      what: `${where}: depth needed`,
      measured: `${lossDb.value.toFixed(2)}${range(lossDb)} dB more`,
      reference: "clairvoyant who knows noise and shape",
      ratio: 10 ** (lossDb.value / 20),
      target: `${{ marked: 0.3, cadence: 0.5, nothing: 1 }[knowledge]} dB`,
    });
  tellRatio({
    what: `${where}: false alarms`,
    measured: `${(100 * falseAlarms.value).toFixed(1)}${range(falseAlarms, 100)} %`,
    reference: `nominal ${100 * falseAlarmRate} %`,
    ratio: falseAlarms.value / falseAlarmRate,
    target: "0.5 to 1.5",
  });
  if (depthErrorOverBound !== null)
    tellRatio({
      what: `${where}: depth RMSE`,
      measured: `${depthErrorOverBound.value.toFixed(2)}${range(depthErrorOverBound)}`,
      reference: "Cramér-Rao bound with the shape told",
      ratio: depthErrorOverBound.value,
      target: "1.05",
    });
  if (predictedOverMeasured !== null)
    tellRatio({
      what: `${where}: predicted minimum detectable depth`,
      measured: `${predictedOverMeasured.value.toFixed(2)}${range(predictedOverMeasured)}`,
      reference: "the one found",
      ratio: predictedOverMeasured.value,
      target: "0.93 to 1.07",
    });
}

/** After every cell, so that a long run that is stopped keeps what it has. */
function save(): void {
  writeFileSync(file, JSON.stringify({ options: values, reports }, null, 1));
}

async function benchCell(cell: CellName, knowledge: Knowledge, marks: MarkKind): Promise<CellReport> {
  const plan = { cell, knowledge, marks, plainDips, falseAlarmRate, power };
  const trials: Task[] = chunks(seeds(recordCount), 10).map((part) => {
    const detailed = part[0] - firstSeed < powerCount;
    return {
      kind: "trials",
      plan: { ...plan, wantsFound: detailed, wantsEstimates: detailed && !plainDips },
      seeds: part,
    };
  });
  const everyday: Task[] =
    everydayCount === 0
      ? []
      : [
          {
            kind: "everyday",
            plan: {
              ...plan,
              trainingCount: Math.max(200, everydayCount),
              choosingCount: 40,
              testSeeds: seeds(everydayCount),
            },
          },
        ];
  const scans: Task[] =
    knowledge === "marked" || powerCount === 0
      ? []
      : chunks(seeds(scanCount, FIRST_SCAN_SEED), 50).map((part) => ({ kind: "scan", plan: { cell, seeds: part } }));
  const tasks = [...everyday, ...scans, ...trials];
  const results = await performAll(tasks, count("workers", values.workers), (done) => {
    if (process.stderr.isTTY) process.stderr.write(`\r${cell} ${knowledge} ${done}/${tasks.length}  `);
  });
  if (process.stderr.isTTY) process.stderr.write("\r\x1b[K");
  return reportCell({
    cell,
    knowledge,
    marks,
    falseAlarmRate,
    power,
    trials: results.slice(everyday.length + scans.length).flat() as Trial[],
    scanMaxima: results.slice(everyday.length, everyday.length + scans.length).flat() as number[],
    everyday: (everyday.length === 0 ? [] : results[0]) as EverydayResult[],
  });
}

function seeds(length: number, first = firstSeed): number[] {
  return Array.from({ length }, (_, k) => first + k);
}

function chunks<T>(items: readonly T[], size: number): T[][] {
  return Array.from({ length: Math.ceil(items.length / size) }, (_, k) => items.slice(k * size, (k + 1) * size));
}

function count(name: string, text: string): number {
  const number = Number(text);
  if (!Number.isInteger(number) || number < 0) fail(`--${name} needs a whole number, got "${text}"`);
  return number;
}

function oneOf<T extends string>(name: string, text: string, allowed: readonly T[]): T[] {
  const words = text === "all" ? [...allowed] : text.split(",");
  const wrong = words.find((word) => !allowed.includes(word as T));
  if (wrong !== undefined) fail(`--${name} knows ${allowed.join(", ")} and all, got "${wrong}"`);
  return words as T[];
}

function fail(sentence: string): never {
  process.stderr.write(`${sentence}\n`);
  process.exit(2);
}
