import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { importLogs, type LogSeries } from "../../../src/importers/csv/csv-importer.js";
import type { Lanes } from "../../../src/importers/csv/regular-lane.js";
import { anyDialect, anyReadings, startsAtFirstReading, writeLog } from "./dialect-writer.js";

function pieces(bytes: Uint8Array, size: number): Uint8Array[] {
  return Array.from({ length: Math.ceil(bytes.length / size) }, (_, i) => bytes.slice(i * size, (i + 1) * size));
}

function read(bytes: Uint8Array, settings: { lanes?: Lanes; pieceBytes?: number } = {}): Promise<LogSeries> {
  const { lanes = "plain", pieceBytes = bytes.length } = settings;
  const file = { name: "log.csv", size: bytes.length, open: () => pieces(bytes, pieceBytes) };
  return importLogs([file], "voltage", {}, lanes);
}

describe("importLogs()", () => {
  it("reads any recording back from any dialect, to the last bit", async () => {
    await fc.assert(
      fc.asyncProperty(anyDialect, anyReadings, async (dialect, readings) => {
        // Three clock times with midnight between them run either way round: such a log is refused, and tried below.
        fc.pre(!(dialect.newestFirst && dialect.time === "clock" && readings.timesMs.length < 4));
        const { recording } = await read(writeLog(dialect, readings));
        expect(Array.from(recording!.voltagesV)).toEqual(readings.voltagesMv.map((mv) => mv / 1000));
        const zeroMs = startsAtFirstReading(dialect) ? readings.timesMs[0]! : 0;
        expect(Array.from(recording!.timesS)).toEqual(readings.timesMs.map((ms) => (ms - zeroMs) / 1000));
      }),
      { numRuns: 300 },
    );
  });

  it("refuses three clock times about midnight that run either way round, in one sentence", async () => {
    const log = "time,voltage (V)\n00:00:00.000,10.004\n23:59:57.052,12.953\n23:59:52.829,30.403\n";
    await expect(read(new TextEncoder().encode(log))).rejects.toThrow(
      /^log\.csv, line 4: the time goes back by 4\.22 s/,
    );
  });

  it("reads the same through each lane and as text, whatever the size of the pieces", async () => {
    await fc.assert(
      fc.asyncProperty(
        anyDialect,
        anyReadings,
        fc.integer({ min: 1, max: 97 }),
        async (dialect, readings, pieceBytes) => {
          // Three clock times about midnight are refused, as above.
          fc.pre(!(dialect.newestFirst && dialect.time === "clock" && readings.timesMs.length < 4));
          const bytes = writeLog(dialect, readings);
          const text = await read(bytes, { lanes: "text" });
          expect(await read(bytes, { pieceBytes })).toEqual(text);
          expect(await read(bytes, { lanes: "bytes", pieceBytes })).toEqual(text);
        },
      ),
      { numRuns: 150 },
    );
  });

  it("gives every decimal number the value that the language gives it, through each lane and as text", async () => {
    const digits = fc.stringMatching(/^\d{1,17}$/);
    const number = fc
      .tuple(fc.constantFrom("", "-", "+"), digits, fc.option(digits), fc.option(fc.integer({ min: -9, max: 9 })))
      .map(([sign, whole, decimals, exponent]) => {
        const fraction = decimals === null ? "" : `.${decimals}`;
        return `${sign}${whole}${fraction}${exponent === null ? "" : `e${exponent}`}`;
      });
    await fc.assert(
      fc.asyncProperty(fc.array(number, { minLength: 3, maxLength: 40 }), async (numbers) => {
        // As temperatures, since a voltage that no bus has is left out.
        const rows = numbers.map((n, i) => `${i},27.3,${n}\n`);
        const bytes = Buffer.from(`time_s,voltage_V,temperature_C\n${rows.join("")}`);
        for (const lanes of ["plain", "bytes", "text"] as const) {
          const { temperature } = await read(bytes, { lanes });
          expect(Array.from(temperature!.temperaturesC)).toEqual(numbers.map(Number));
        }
      }),
      { numRuns: 200 },
    );
  });

  it("keeps the lanes' numbers when irregular rows stand among regular ones", async () => {
    const irregular = fc.constantFrom(
      "# a comment",
      "",
      '"2","27.5"',
      "3,2.75e1",
      "4 , 27.5",
      "5,OL",
      "6,",
      "time_s,voltage_V",
      '7,27.5,"a note, with\na line end"',
      "-- card changed --",
    );
    const row = fc.oneof({ weight: 6, arbitrary: fc.constant(null) }, { weight: 1, arbitrary: irregular });
    await fc.assert(
      fc.asyncProperty(fc.array(row, { minLength: 5, maxLength: 80 }), async (kinds) => {
        const body = kinds.map((kind, i) =>
          (kind ?? `${i},27.${i}`).replace(/^"?\d+/, (n) => n.replace(/\d+/, String(i))),
        );
        const bytes = Buffer.from(`time_s,voltage_V\n0,27.25\n0,27.25\n0,27.25\n0,27.25\n${body.join("\n")}\n`);
        const outcome = async (settings: Parameters<typeof read>[1]): Promise<unknown> =>
          read(bytes, settings).catch((fault: Error) => fault.message);
        const text = await outcome({ lanes: "text" });
        expect(await outcome({})).toEqual(text);
        expect(await outcome({ lanes: "bytes" })).toEqual(text);
        expect(await outcome({ pieceBytes: 13 })).toEqual(text);
      }),
      { numRuns: 200 },
    );
  });
});
