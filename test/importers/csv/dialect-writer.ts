import fc from "fast-check";

/** A way to write a log, as any logger may have chosen it. */
export interface WrittenDialect {
  readonly delimiter: "," | ";" | "\t" | "|";
  readonly decimal: "." | ",";
  readonly quoted: boolean;
  readonly lineEnd: "\n" | "\r\n" | "\r";
  readonly encoding: "utf-8" | "utf-8-mark" | "utf-16le" | "utf-16be" | "latin-1";
  readonly voltageUnit: "V" | "mV";
  readonly time:
    | "s"
    | "ms"
    | "iso"
    | "dots"
    | "clock"
    | "epoch-ms"
    | "epoch-s"
    | "epoch-us"
    | "epoch-ns"
    | "offset"
    | "half-days"
    | "pair";
  readonly header: "brackets" | "underscores" | "units-row";
  readonly preamble: boolean;
  readonly extraColumns: number;
  /** Moments, unlike elapsed times, may stand newest first. */
  readonly newestFirst: boolean;
}

/** Readings in whole milliseconds and millivolts, so that every way of writing them is exact. */
export interface ExactReadings {
  readonly startMs: number;
  readonly timesMs: readonly number[];
  readonly voltagesMv: readonly number[];
}

export const anyDialect: fc.Arbitrary<WrittenDialect> = fc.record({
  delimiter: fc.constantFrom(",", ";", "\t", "|"),
  decimal: fc.constantFrom(".", ","),
  quoted: fc.boolean(),
  lineEnd: fc.constantFrom("\n", "\r\n", "\r"),
  encoding: fc.constantFrom("utf-8", "utf-8-mark", "utf-16le", "utf-16be", "latin-1"),
  voltageUnit: fc.constantFrom("V", "mV"),
  time: fc.constantFrom(
    "s",
    "ms",
    "iso",
    "dots",
    "clock",
    "epoch-ms",
    "epoch-s",
    "epoch-us",
    "epoch-ns",
    "offset",
    "half-days",
    "pair",
  ),
  header: fc.constantFrom("brackets", "underscores", "units-row"),
  preamble: fc.boolean(),
  extraColumns: fc.integer({ min: 0, max: 3 }),
  newestFirst: fc.boolean(),
});

export const anyReadings: fc.Arbitrary<ExactReadings> = fc
  .array(fc.record({ stepMs: fc.integer({ min: 1, max: 5000 }), mv: fc.integer({ min: 10_000, max: 32_000 }) }), {
    minLength: 3,
    maxLength: 60,
  })
  .chain((steps) =>
    fc.integer({ min: 0, max: 86_399_999 }).map((ofDay) => {
      let at = 0;
      const timesMs = steps.map(({ stepMs }, i) => {
        at += i === 0 ? 0 : stepMs;
        return at;
      });
      // Day 20514 after 1970-01-01 is 2026-03-02.
      return { startMs: 20_514 * 86_400_000 + ofDay, timesMs, voltagesMv: steps.map(({ mv }) => mv) };
    }),
  );

/** Whether times in that form count from the first reading. */
export function startsAtFirstReading(dialect: WrittenDialect): boolean {
  return dialect.time !== "s" && dialect.time !== "ms";
}

const fixed = (thousandths: number, decimal: string): string =>
  `${Math.floor(thousandths / 1000)}${decimal}${String(thousandths % 1000).padStart(3, "0")}`;

function timeCells(dialect: WrittenDialect, readings: ExactReadings, i: number): string[] {
  const elapsed = readings.timesMs[i]!;
  const epoch = readings.startMs + elapsed;
  const iso = new Date(epoch).toISOString();
  const clock = iso.slice(11, 23).replace(".", dialect.decimal);
  const dots = `${iso.slice(8, 10)}.${iso.slice(5, 7)}.${iso.slice(0, 4)}`;
  const forms = {
    s: () => [fixed(elapsed, dialect.decimal)],
    ms: () => [String(elapsed)],
    iso: () => [iso.replace(".", dialect.decimal)],
    dots: () => [`${dots} ${clock}`],
    clock: () => [clock],
    "epoch-us": () => [`${epoch}000`],
    "epoch-ns": () => [`${epoch}000000`],
    offset: () => [`${new Date(epoch + 19_800_000).toISOString().slice(0, -1)}+05:30`],
    "half-days": () => [`${iso.slice(0, 10)} ${halfDayClock(iso.slice(11, 23))}`],
    "epoch-ms": () => [String(epoch)],
    "epoch-s": () => [fixed(epoch, dialect.decimal)],
    pair: () => [dots, clock],
  };
  return forms[dialect.time]();
}

/** `13:05:00.250` as `1:05:00.250 PM`. */
function halfDayClock(clock: string): string {
  const hour = Number(clock.slice(0, 2));
  return `${hour % 12 === 0 ? 12 : hour % 12}${clock.slice(2)} ${hour < 12 ? "AM" : "PM"}`;
}

function headerRows(dialect: WrittenDialect): string[][] {
  const timeNames = dialect.time === "pair" ? ["Date", "Time"] : ["Time"];
  const timeUnit = dialect.time === "s" || dialect.time === "ms" ? dialect.time : "";
  const names = [...timeNames, "Voltage"];
  const units = [...timeNames.map(() => timeUnit), dialect.voltageUnit];
  const extra = Array.from({ length: dialect.extraColumns }, (_, i) => `Channel ${i} (Hz)`);
  const extraUnits = extra.map(() => "Hz");
  if (dialect.header === "units-row")
    return [
      [...names, ...extra],
      [...units, ...extraUnits],
    ];
  const withUnits = names.map((name, i) => {
    if (units[i] === "") return name;
    return dialect.header === "brackets" ? `${name} (${units[i]})` : `${name}_${units[i]}`;
  });
  return [[...withUnits, ...extra]];
}

/** Writes the readings in that dialect. */
export function writeLog(dialect: WrittenDialect, readings: ExactReadings): Uint8Array {
  const cell = (text: string): string => {
    const mustQuote = dialect.quoted || text.includes(dialect.delimiter);
    return mustQuote ? `"${text}"` : text;
  };
  const volts = (mv: number): string =>
    dialect.voltageUnit === "mV" ? fixed(mv * 1000, dialect.decimal) : fixed(mv, dialect.decimal);
  const body = readings.timesMs.map((_, i) => [
    ...timeCells(dialect, readings, i),
    volts(readings.voltagesMv[i]!),
    ...Array.from({ length: dialect.extraColumns }, () => fixed(400_000 + i, dialect.decimal)),
  ]);
  if (dialect.newestFirst && startsAtFirstReading(dialect)) body.reverse();
  const table = [...headerRows(dialect), ...body].map((row) => row.map(cell).join(dialect.delimiter));
  const preamble = dialect.preamble ? ["Aircraft: ICE-2", "Bus: essential", ""] : [];
  return encode(`${[...preamble, ...table].join(dialect.lineEnd)}${dialect.lineEnd}`, dialect.encoding);
}

function encode(text: string, encoding: WrittenDialect["encoding"]): Uint8Array {
  if (encoding === "utf-16le") return Buffer.from(`\ufeff${text}`, "utf16le");
  if (encoding === "utf-16be") return Buffer.from(`\ufeff${text}`, "utf16le").swap16();
  if (encoding === "latin-1") return Buffer.from(text, "latin1");
  return Buffer.from(encoding === "utf-8-mark" ? `\ufeff${text}` : text, "utf8");
}
