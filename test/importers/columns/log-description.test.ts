import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { formatLogDescription, parseLogDescription } from "../../../src/importers/columns/log-description.js";
import { type LogOptions, LogOptionsSchema } from "../../../src/importers/csv/log-options.js";

const name = fc.oneof(
  fc.string({ minLength: 1, maxLength: 12, unit: "grapheme" }),
  fc.constantFrom("true", "null", "~", "1", "1e3", "- x", "a: b", "#", "Bus V [mV]", " padded ", "Größe", "'", '"'),
);
const column = fc.oneof(name, fc.integer({ min: 1, max: 400 }));
const positive = fc.double({ min: 1e-6, max: 1e6, noNaN: true });

/** Every option with every kind of value it may have. */
const settings = {
  encoding: fc.constantFrom("utf-8", "utf-16le", "utf-16be", "latin-1"),
  delimiter: fc.constantFrom(",", ";", "tab", "|", "space"),
  decimal: fc.constantFrom(".", ","),
  headerLine: fc.nat(1000),
  timeColumn: column,
  dateColumn: column,
  voltageColumn: column,
  currentColumn: column,
  temperatureColumn: column,
  uncertaintyColumn: fc.oneof(column, fc.constant(0)),
  timeUnit: fc.constantFrom("ns", "us", "ms", "s", "min", "h", "d"),
  voltageUnit: fc.constantFrom("uV", "mV", "V", "kV"),
  currentUnit: fc.constantFrom("uA", "mA", "A", "kA"),
  temperatureUnit: fc.constantFrom("C", "K", "F"),
  timeFormat: fc.constantFrom("stamp", "clock", "elapsed", "epoch", "excel", "excel-1904"),
  dateOrder: fc.constantFrom("day-first", "month-first", "year-first"),
  zone: fc.constantFrom("UTC", "+02:00", "-09:30", "Europe/Paris"),
  intervalS: fc.double({ min: 1e-6, max: 86_400, noNaN: true }),
  fileGapS: positive,
  missing: fc.array(fc.string({ maxLength: 8 }), { maxLength: 4 }),
  currentSign: fc.constantFrom(1, -1),
  currentZeroA: fc.double({ noNaN: true, noDefaultInfinity: true }),
};

describe("parseLogDescription()", () => {
  it("is tried on every option there is", () => {
    expect(Object.keys(settings).sort()).toEqual(Object.keys(LogOptionsSchema.shape).sort());
  });

  it("reads back every setting as formatLogDescription() wrote it", () => {
    fc.assert(
      fc.property(fc.record(settings, { requiredKeys: [] }), (options) => {
        expect(parseLogDescription(formatLogDescription(options as LogOptions), "log.yaml")).toEqual(options);
      }),
      { numRuns: 300 },
    );
  });
});
