import { describe, expect, it } from "vitest";
import { formatLogDescription, parseLogDescription } from "../../../src/importers/columns/log-description.js";
import { importLogs, type LogSeries } from "../../../src/importers/csv/csv-importer.js";
import type { Lanes } from "../../../src/importers/csv/regular-lane.js";
import { InputError } from "../../../src/importers/input-error.js";
import { DIALECT_SHAPES } from "./dialect-shapes.js";
import { DRAWER_SHAPES } from "./drawer-shapes.js";
import type { LogShape } from "./log-shapes.js";
import { READING_SHAPES } from "./reading-shapes.js";
import { TIME_SHAPES } from "./time-shapes.js";

const SHAPES = [...DIALECT_SHAPES, ...TIME_SHAPES, ...READING_SHAPES, ...DRAWER_SHAPES];

async function read(shape: LogShape, lanes: Lanes = "plain"): Promise<LogSeries | InputError> {
  const bytes = typeof shape.log === "string" ? new TextEncoder().encode(shape.log) : shape.log;
  const file = { name: "log.csv", size: bytes.length, open: () => [bytes] };
  try {
    const series = await importLogs([file], "voltage", shape.options ?? {}, lanes);
    if (series.recording !== null) return series;
    return new InputError({
      file: "log.csv",
      problem: "no row holds a voltage",
      remedy: "name the column with --voltage-column",
    });
  } catch (fault) {
    if (fault instanceof InputError) return fault;
    throw fault;
  }
}

function readings(series: LogSeries, index: 0 | -1, width: number): number[] {
  const { timesS, voltagesV, current } = series.recording!;
  const row = [timesS.at(index)!, voltagesV.at(index)!];
  return width === 3 ? [...row, current!.currentsA.at(index)!] : row;
}

describe("importLogs()", () => {
  it("is tried on at least 60 shapes of log, each with its own name", () => {
    expect(SHAPES.length).toBeGreaterThanOrEqual(60);
    expect(new Set(SHAPES.map((shape) => shape.name)).size).toBe(SHAPES.length);
  });

  it.each(SHAPES.filter((shape) => shape.refused === undefined))("reads $name", async (shape) => {
    const series = await read(shape);
    if (series instanceof InputError) throw series;
    const { first, last, count, firstCurrent, lastCurrent, start, says } = shape;
    if (first !== undefined) expectClose(readings(series, 0, first.length), first);
    if (last !== undefined) expectClose(readings(series, -1, last.length), last);
    if (count !== undefined) expect(series.recording!.voltagesV.length).toBe(count);
    if (firstCurrent !== undefined)
      expectClose([series.current!.timesS[0]!, series.current!.currentsA[0]!], firstCurrent);
    if (lastCurrent !== undefined) {
      expectClose([series.current!.timesS.at(-1)!, series.current!.currentsA.at(-1)!], lastCurrent);
    }
    if (start !== undefined) expect(new Date(Math.round(series.startEpochS! * 1000)).toISOString()).toBe(start);
    const sentences = [...series.understood, ...series.warnings].map((note) => note.text).join("\n");
    for (const part of says ?? []) expect(sentences).toContain(part);
  });

  it.each(SHAPES.filter((shape) => shape.refused !== undefined))("refuses $name", async (shape) => {
    const fault = await read(shape);
    expect(fault).toBeInstanceOf(InputError);
    expect((fault as InputError).message).toBe(shape.refused);
  });

  it.each(SHAPES)("reads row by row as text what it reads through the lanes: $name", async (shape) => {
    const quickest = await read(shape);
    for (const lanes of ["bytes", "text"] as const) {
      const other = await read(shape, lanes);
      if (quickest instanceof InputError) expect((other as InputError).message).toBe(quickest.message);
      else expect(other).toEqual(quickest);
    }
  });

  it.each(SHAPES.filter((shape) => shape.refused === undefined))(
    "reads $name again by its saved description",
    async (shape) => {
      const first = (await read(shape)) as LogSeries;
      const saved = parseLogDescription(formatLogDescription(first.description), "log.yaml");
      const again = (await read({ ...shape, options: saved })) as LogSeries;
      expect(again.recording).toEqual(first.recording);
      expect(again.current).toEqual(first.current);
      expect(again.temperature).toEqual(first.temperature);
      expect(again.startEpochS).toBe(first.startEpochS);
    },
  );
});

function expectClose(found: readonly number[], expected: readonly number[]): void {
  expect(found.length).toBe(expected.length);
  found.forEach((value, i) => {
    expect(value).toBeCloseTo(expected[i]!, 9);
  });
}
