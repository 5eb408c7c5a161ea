import { InputError } from "../input-error.js";
import { isAside, roleScore } from "./column-name.js";
import type { ColumnSurvey } from "./column-survey.js";
import type { ColumnReason, LogFinding, UnitReason } from "./log-notes.js";
import type { LogOptions } from "./log-options.js";
import type { ValueRole } from "./series-set.js";
import { type Dimension, type LogUnit, unitBySymbol } from "./unit.js";

/** A column of readings with its unit. */
export interface ValueColumn {
  readonly index: number;
  readonly label: string;
  readonly unit: LogUnit;
  /** Column that holds each reading's own unit; null where there is none. */
  readonly unitColumn: number | null;
}

/** Above this a number without a unit cannot be volts or amperes on a bus of this kind; it counts thousandths. */
const LARGEST_PLAIN: Readonly<Record<ValueRole, number>> = {
  voltage: 1000,
  current: 5000,
  temperature: 1e9,
  uncertainty: 1e9,
  aside: 1e9,
};

const DEFAULT_UNIT: Readonly<Record<ValueRole, string>> = {
  voltage: "V",
  current: "A",
  temperature: "C",
  uncertainty: "V",
  aside: "V",
};

/** What a reading of that role is measured in. */
export function dimensionOf(role: ValueRole): Dimension {
  return role === "uncertainty" || role === "aside" ? "voltage" : role;
}

/** The column that the person pointed out. @throws {InputError} where there is none of that name or number. */
export function columnTold(columns: readonly ColumnSurvey[], told: string | number, flag: string): ColumnSurvey {
  const number = typeof told === "number" ? told : /^\d+$/.test(told) ? Number(told) : null;
  const exact = columns.filter((column) => column.title === String(told));
  const loose = columns.filter((column) => column.title.toLowerCase() === String(told).toLowerCase());
  const found =
    exact.length === 1
      ? exact
      : loose.length > 0
        ? loose
        : number === null
          ? []
          : columns.filter((column) => column.index === number - 1);
  if (found.length === 1) return found[0]!;
  throw new InputError({
    problem:
      found.length === 0
        ? `there is no column ${typeof told === "number" ? told : `'${told}'`}`
        : `${found.length} columns are named '${told}'`,
    remedy:
      found.length === 0 ? `give ${flag} one of: ${listOf(columns)}` : `give ${flag} its number: ${listOf(found)}`,
  });
}

/** Finds the column of that role; null where nothing speaks for any. @throws {InputError} where two have equal claims. */
export function chooseValueColumn(
  columns: readonly ColumnSurvey[],
  role: Exclude<ValueRole, "uncertainty" | "aside">,
  options: LogOptions,
  findings: LogFinding[],
): ValueColumn | null {
  const told =
    role === "voltage" ? options.voltageColumn : role === "current" ? options.currentColumn : options.temperatureColumn;
  if (told !== undefined) {
    return withUnit(columnTold(columns, told, `--${role}-column`), role, "told", columns, options, findings);
  }
  const numeric = columns.filter((column) => isNumeric(column));
  const scored = numeric
    .map((column) => ({ column, score: claim(column, role, columns) }))
    .filter(({ score }) => score > 0)
    .sort((a, b) => b.score - a.score);
  const best = scored.filter(({ score }) => score === scored[0]!.score).map(({ column }) => column);
  if (best.length === 0) return null;
  const proper = leaveCompanionsOut(best, role, findings);
  const readable = proper.length === 1 ? proper : preferDirect(proper, role, findings);
  if (readable.length > 1) {
    if (role === "temperature") return null;
    throw new InputError({
      problem: `${readable.length} columns may hold the ${role}: ${listOf(readable)}`,
      remedy: `say which with --${role}-column`,
    });
  }
  const column = readable[0]!;
  const because: ColumnReason = roleScore(column.name.words, role) > 0 ? "name" : "unit";
  return withUnit(column, role, because, columns, options, findings);
}

/** A reading's own uncertainty is small against the reading. */
const LARGEST_UNCERTAINTY = 0.2;

/**
 * The column of each voltage reading's standard uncertainty: the one told, or one named `u_V` beside the voltage proper;
 * null where there is none.
 */
export function uncertaintyColumn(columns: readonly ColumnSurvey[], options: LogOptions): ColumnSurvey | null {
  const { uncertaintyColumn: told } = options;
  if (told !== undefined && told !== 0) return columnTold(columns, told, "--uncertainty-column");
  // A capital U is the voltage itself in many languages.
  const named = columns.filter((column) => /^u[_ ]?[[(]?m?V[\])]?$/.test(column.title) && isNumeric(column));
  const [own] = named;
  if (own === undefined || named.length > 1) return null;
  const size = ({ numbers, unit }: ColumnSurvey): number => medianSize(numbers) / 10 ** (unit?.decimalShift ?? 0);
  const voltages = columns.filter(
    (column) => column !== own && column.kind === "number" && claim(column, "voltage", columns) === 2,
  );
  return voltages.some((column) => size(own) < LARGEST_UNCERTAINTY * size(column)) ? own : null;
}

/** The column named `aside_V`, which tells what each reading of a needle would change by if the needle lay aside; or null. */
export function asideColumn(columns: readonly ColumnSurvey[]): ColumnSurvey | null {
  return columns.find((column) => column.title === "aside_V" && isNumeric(column)) ?? null;
}

function medianSize(numbers: readonly number[]): number {
  const sizes = numbers.map(Math.abs).sort((a, b) => a - b);
  return sizes[Math.floor(sizes.length / 2)] ?? 0;
}

/** Columns of numbers, and those that hold nothing but signs of "no reading" so far. */
function isNumeric(column: ColumnSurvey): boolean {
  return column.kind === "number" || column.kind === "missing";
}

/** Whether the column's unit or name claims the role (2), or a faint word only (1); a unit of another kind rules it out. */
function claim(
  column: ColumnSurvey,
  role: Exclude<ValueRole, "uncertainty" | "aside">,
  columns: readonly ColumnSurvey[],
): number {
  const unit = column.unit ?? column.cellUnits[0] ?? unitBeside(column, columns)?.cellUnits[0] ?? null;
  if (unit === null) return Math.min(2, roleScore(column.name.words, role));
  return unit.dimension === role ? 2 : 0;
}

function leaveCompanionsOut(
  best: readonly ColumnSurvey[],
  role: ValueRole,
  findings: LogFinding[],
): readonly ColumnSurvey[] {
  if (best.length === 1) return best;
  const proper = best.filter((column) => !isAside(column.name.words));
  const mean = best.filter((column) => column.name.words.some((word) => /^(avg|average|mean)$/.test(word)));
  const kept = proper.length > 0 ? proper : mean.length === 1 ? mean : best;
  for (const column of best) {
    if (!kept.includes(column))
      findings.push({ code: "column-left-out", column: column.label, role, why: "companion" });
  }
  return kept;
}

/** Of a direct and an alternating reading of the same thing, the direct one. */
function preferDirect(
  columns: readonly ColumnSurvey[],
  role: ValueRole,
  findings: LogFinding[],
): readonly ColumnSurvey[] {
  const rank = (column: ColumnSurvey): number => {
    const coupling = column.unit?.coupling ?? null;
    if (coupling === "ac") return 2;
    return coupling === "ac+dc" ? 1 : 0;
  };
  const lowest = Math.min(...columns.map(rank));
  const kept = columns.filter((column) => rank(column) === lowest);
  for (const column of columns) {
    if (!kept.includes(column))
      findings.push({ code: "column-left-out", column: column.label, role, why: "alternating" });
  }
  return kept;
}

/** Takes the column with its unit and says why. */
export function withUnit(
  column: ColumnSurvey,
  role: ValueRole,
  because: ColumnReason,
  columns: readonly ColumnSurvey[],
  options: LogOptions,
  findings: LogFinding[],
): ValueColumn {
  const told =
    role === "voltage"
      ? options.voltageUnit
      : role === "current"
        ? options.currentUnit
        : role === "temperature"
          ? options.temperatureUnit
          : undefined;
  const beside = unitBeside(column, columns);
  const [unit, unitBecause] = unitFor(column, role, told, beside);
  if (role === "voltage" && told === undefined && unitBecause !== "cells") refuseChangedRange(column);
  if (unit.coupling === "ac+dc") findings.push({ code: "mixed-coupling", role });
  findings.push({ code: "column", column: column.label, role, unit: unit.symbol, because, unitBecause });
  return { index: column.index, label: column.label, unit, unitColumn: beside?.index ?? null };
}

function unitFor(
  column: ColumnSurvey,
  role: ValueRole,
  told: string | undefined,
  beside: ColumnSurvey | null,
): readonly [LogUnit, UnitReason] {
  if (told !== undefined) return [unitBySymbol(told), "told"];
  if (column.unit !== null && column.unit.dimension === dimensionOf(role)) return [column.unit, "header"];
  const inCells = column.cellUnits[0] ?? beside?.cellUnits[0];
  if (inCells !== undefined && inCells.dimension === dimensionOf(role)) return [inCells, "cells"];
  if (medianSize(column.numbers) > LARGEST_PLAIN[role]) return [unitBySymbol(role === "voltage" ? "mV" : "mA"), "size"];
  return [unitBySymbol(DEFAULT_UNIT[role]), "assumed"];
}

/** Below this usual voltage a unit of the header is doubted where the plain numbers would be those of a bus, V. */
const LEAST_BUS_V = 0.5;

/** @throws {InputError} where the header's unit gives a voltage no bus has, and another one a usual one. */
export function refuseUnfitUnit({ label, numbers }: ColumnSurvey, unit: LogUnit): void {
  const plain = medianSize(numbers);
  const inVolts = plain / Number(`1e${unit.decimalShift}`);
  const other =
    inVolts > LARGEST_PLAIN.voltage && plain / 1000 < LARGEST_PLAIN.voltage
      ? "mV"
      : inVolts < LEAST_BUS_V && unit.decimalShift > 0 && plain >= 2 * LEAST_BUS_V && plain < LARGEST_PLAIN.voltage
        ? "V"
        : null;
  if (other === null) return;
  throw new InputError({
    problem: `${label} is named in ${unit.symbol}, but its numbers are about ${Number(plain.toPrecision(3))}, as a bus has them in ${other}`,
    remedy: `say --voltage-unit ${other}, or --voltage-unit ${unit.symbol} if the header is right`,
  });
}

/** @throws {InputError} where a part of the numbers is a thousand times the rest, as a meter writes that changes its range. */
function refuseChangedRange({ label, numbers }: ColumnSurvey): void {
  const sizes = numbers.map(Math.abs);
  const large = sizes.filter((size) => size > LARGEST_PLAIN.voltage);
  const small = sizes.filter((size) => size >= 1 && size <= LARGEST_PLAIN.voltage);
  const share = Math.min(large.length, small.length) / sizes.length;
  if (Math.min(large.length, small.length) < 2 || share < LEAST_RANGE_SHARE) return;
  const times = medianSize(large) / medianSize(small);
  if (times < 500 || times > 2000) return;
  throw new InputError({
    problem: `${label} holds numbers of about ${Number(medianSize(small).toPrecision(3))} and of about ${Number(medianSize(large).toPrecision(3))}, as of a meter that changes between V and mV`,
    remedy: "write all of them in one unit, or the unit of each in a column beside them",
  });
}

/** Fewer readings than this share are stray ones. */
const LEAST_RANGE_SHARE = 0.02;

/** The next column, where it holds nothing but units. */
function unitBeside(column: ColumnSurvey, columns: readonly ColumnSurvey[]): ColumnSurvey | null {
  const next = columns.find((other) => other.index === column.index + 1);
  return next !== undefined && next.kind === "unit" ? next : null;
}

export function listOf(columns: readonly ColumnSurvey[]): string {
  return (
    columns
      .slice(0, 12)
      .map((column) => column.label)
      .join(", ") + (columns.length > 12 ? ", ..." : "")
  );
}
