import { createHash } from "node:crypto";
import { parse } from "csv-parse/sync";
import { CHEMISTRIES } from "../core/index.js";
import { momentOf } from "./moment.js";
import type { BatteryEntry, Estimated, EstimateEntry, RecordingEntry } from "./recording-entry.js";
import type { HistoryContent } from "./store.js";
import { StoreError } from "./store-error.js";

const MILLI = 1e-3;
/** No quantity of a battery is larger, in the units of the table. */
const LARGEST_NUMBER = 1e12;

/** Columns of quantities: name, quantity, and factor from the column's unit to SI; `u_` before the name holds its u. */
const QUANTITY_COLUMNS: readonly (readonly [string, Estimated, number])[] = [
  ["internal_mOhm", "internal-resistance", MILLI],
  ["source_mOhm", "source-resistance", MILLI],
  ["normalized_mOhm", "normalized-resistance", MILLI],
  ["open_circuit_V", "open-circuit", 1],
  ["endurance_min", "endurance", 1],
];
const CURRENT_COLUMN = "current_A:";
const PLAIN_COLUMNS = [
  "date",
  "battery",
  "chemistry",
  "cells",
  "capacity_Ah",
  "aircraft",
  "bus",
  "after_s",
  "temperature_C",
  "state_of_charge",
  "required_endurance_min",
  "source",
  "report",
  "remark",
  "recording",
] as const;
/** So many of them stand before the quantities. */
const FIRST_COLUMNS = 11;

/** One line per recording with its estimates and its battery's plate; dips, verdicts and notes are left to the JSON export. */
export function writeHistoryCsv(content: HistoryContent): string {
  const loads = [...new Set(content.recordings.flatMap((entry) => entry.estimates.map(loadOf)))].filter(
    (load) => load !== null,
  );
  const columns = [
    ...QUANTITY_COLUMNS.map(([name, quantity, factor]) => ({ name, quantity, factor, load: null as string | null })),
    ...loads.sort().map((load) => ({
      name: `${CURRENT_COLUMN}${load}`,
      quantity: "load-current" as const,
      factor: 1,
      load,
    })),
  ];
  const head = [
    ...PLAIN_COLUMNS.slice(0, FIRST_COLUMNS),
    ...columns.flatMap(({ name }) => [name, `u_${name}`]),
    ...PLAIN_COLUMNS.slice(FIRST_COLUMNS),
  ];
  const plates = new Map(content.batteries.map((battery) => [battery.id, battery]));
  const lines = content.recordings.map((entry) => {
    const plate = plates.get(entry.battery);
    const found = columns.map(({ quantity, load }) =>
      entry.estimates.find((estimate) => estimate.quantity === quantity && estimate.load === load),
    );
    const after = entry.estimates.find((estimate) => estimate.afterS !== null)?.afterS ?? null;
    return [
      new Date(1000 * entry.atS).toISOString(),
      entry.battery,
      plate?.chemistry ?? null,
      plate?.cells ?? null,
      plate?.capacityAh ?? null,
      entry.aircraft,
      entry.bus,
      after,
      entry.temperatureC,
      entry.stateOfCharge,
      entry.requiredEnduranceMin,
      ...found.flatMap((estimate, index) =>
        estimate
          ? [digits(estimate.value / columns[index].factor), digits(estimate.u / columns[index].factor)]
          : [null, null],
      ),
      entry.source,
      entry.report,
      entry.remark,
      entry.hash,
    ];
  });
  return [head, ...lines].map((cells) => `${cells.map(cellText).join(",")}\n`).join("");
}

/** Enough digits that reading it back gives the same number to a millionth. */
function digits(value: number): number {
  return Number(value.toPrecision(9));
}

function loadOf(estimate: EstimateEntry): string | null {
  return estimate.quantity === "load-current" ? estimate.load : null;
}

function cellText(cell: string | number | null): string {
  if (cell === null) return "";
  const text = String(cell);
  // A cell that a spreadsheet would run as a formula is held back by a quote.
  const safe = /^[=+@]/.test(text) || /^-(?!\d)/.test(text) ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/**
 * Reads a table of recordings; needed are `date`, `battery` and a quantity with its `u_` column. A line without a
 * `recording` hash gets one from its own content, so that reading the table twice adds nothing.
 *
 * @throws StoreError that names the line
 */
export function readHistoryCsv(text: string, file: string): HistoryContent {
  const fault = (line: number, problem: string, remedy: string) =>
    new StoreError("bad-entry", `${file}, line ${line}`, problem, `${remedy}; nothing was added`);
  let rows: { record: Record<string, string>; info: { lines: number } }[];
  try {
    rows = parse(text, {
      columns: true,
      bom: true,
      trim: true,
      skip_empty_lines: true,
      info: true,
      comment: "#",
    }) as never;
  } catch (error) {
    const line = (error as { lines?: number }).lines ?? 1;
    throw fault(line, "this line does not fit the header", "give it one cell for each column");
  }
  if (rows.length === 0) throw fault(1, "the table holds no recording", "give a header and a line for each recording");
  const { record: first } = rows[0];
  for (const needed of ["date", "battery"]) {
    if (!(needed in first)) throw fault(1, `the column ${needed} is missing`, "add it to the header");
  }
  const plates = new Map<string, BatteryEntry>();
  const recordings = rows.map(({ record, info }) => {
    const own = (problem: string, remedy: string) => fault(info.lines, problem, remedy);
    const entry = entryOf(record, own);
    const plate = plateOf(record, entry.battery, own);
    const before = plates.get(entry.battery);
    plates.set(entry.battery, before === undefined ? plate : samePlate(before, plate, own));
    return entry;
  });
  const told = [...plates.values()].filter(
    ({ chemistry, cells, capacityAh }) => chemistry !== null || cells !== null || capacityAh !== null,
  );
  return { batteries: told, installations: [], recordings };
}

type Fault = (problem: string, remedy: string) => StoreError;

/** What a line says of its battery's plate. */
function plateOf(record: Record<string, string>, id: string, fault: Fault): BatteryEntry {
  const above = (name: string, least: number, isWhole: boolean) => {
    const cell = record[name];
    if (!cell) return null;
    const value = Number(cell);
    if (!(value >= least && value <= LARGEST_NUMBER) || (isWhole && !Number.isInteger(value))) {
      throw fault(`${name} is '${cell}'`, isWhole ? "write a whole number from 1 on" : "write a number above zero");
    }
    return value;
  };
  const { chemistry } = record;
  if (chemistry && !CHEMISTRIES.some((one) => one === chemistry)) {
    throw fault(`chemistry is '${chemistry}'`, `write ${CHEMISTRIES.join(", ")} or nothing`);
  }
  return {
    id,
    chemistry: chemistry || null,
    cells: above("cells", 1, true),
    capacityAh: above("capacity_Ah", Number.MIN_VALUE, false),
    retiredOn: null,
    retiredBecause: null,
  };
}

/** Two lines of one battery together: what either leaves open the other may tell. */
function samePlate(before: BatteryEntry, after: BatteryEntry, fault: Fault): BatteryEntry {
  const both = <T extends string | number>(name: string, first: T | null, second: T | null): T | null => {
    if (first !== null && second !== null && first !== second) {
      throw fault(`battery ${after.id} has ${name} ${second} here and ${first} above`, "write the same in both lines");
    }
    return first ?? second;
  };
  return {
    ...after,
    chemistry: both("chemistry", before.chemistry, after.chemistry),
    cells: both("cells", before.cells, after.cells),
    capacityAh: both("capacity_Ah", before.capacityAh, after.capacityAh),
  };
}

function entryOf(record: Record<string, string>, fault: Fault): RecordingEntry {
  const plain = (name: string) => (record[name] ? record[name].replace(/^'(?=[=+@-])/, "") : null);
  const number = (name: string) => {
    const cell = record[name];
    if (!cell) return null;
    const value = Number(cell);
    if (!(Math.abs(value) <= LARGEST_NUMBER)) throw fault(`${name} is '${cell}'`, "write a plain number");
    return value;
  };
  const battery = plain("battery");
  if (battery === null) throw fault("the battery is missing", "write its number");
  const atMs = momentOf(record.date ?? "");
  if (atMs === null)
    throw fault(`the date is '${record.date ?? ""}'`, "write it as 2026-03-02 or 2026-03-02T10:30:00Z");
  const estimates = estimatesOf(record, number, fault);
  if (estimates.length === 0) throw fault("no quantity stands in this line", "fill in a value and its u_ column");
  return {
    hash:
      plain("recording") ??
      createHash("sha256")
        .update(JSON.stringify(Object.entries(record).sort()))
        .digest("hex"),
    battery,
    aircraft: plain("aircraft"),
    bus: plain("bus"),
    atS: atMs / 1000,
    source: plain("source") ?? "",
    sampleCount: null,
    durationS: null,
    sampleRateHz: null,
    sigmaV: null,
    temperatureC: number("temperature_C"),
    stateOfCharge: number("state_of_charge"),
    requiredEnduranceMin: number("required_endurance_min"),
    report: plain("report"),
    software: null,
    remark: plain("remark"),
    dips: [],
    estimates,
    answers: [],
    notes: [],
  };
}

function estimatesOf(
  record: Record<string, string>,
  number: (name: string) => number | null,
  fault: Fault,
): EstimateEntry[] {
  const currents = Object.keys(record)
    .filter((name) => name.startsWith(CURRENT_COLUMN))
    .map((name) => [name, "load-current", 1, name.slice(CURRENT_COLUMN.length)] as const);
  const resistance = (quantity: Estimated) => quantity.endsWith("resistance");
  return [...QUANTITY_COLUMNS.map((column) => [...column, null] as const), ...currents].flatMap(
    ([name, quantity, factor, load]) => {
      const value = number(name);
      if (value === null) return [];
      const u = number(`u_${name}`);
      if (u === null || !(u > 0)) {
        throw fault(`${name} has no uncertainty`, `write its standard uncertainty, above zero, into u_${name}`);
      }
      const afterS = resistance(quantity) ? number("after_s") : null;
      const unknown = { low: null, high: null, coverage: null, route: null };
      return [{ quantity, load, afterS, value: value * factor, u: u * factor, ...unknown }];
    },
  );
}
