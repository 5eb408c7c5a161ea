import { z } from "zod";

/** Longest time between two readings of a log, seconds: a day. */
export const LONGEST_INTERVAL_S = 86_400;

/** A column pointed out by its header name or by its number, counted from 1. */
const column = z.union([z.string().min(1), z.number().int().positive()]);

/**
 * Everything a person may say about a text log, on the command line or in a saved description; each overrules a guess.
 *
 * A saved description is a YAML map of these same keys.
 */
export const LogOptionsSchema = z.strictObject({
  encoding: z.enum(["utf-8", "utf-16le", "utf-16be", "latin-1"]).optional(),
  delimiter: z.enum([",", ";", "tab", "|", "space"]).optional(),
  decimal: z.enum([".", ","]).optional(),
  /** Line of the header, counted from 1; 0 where the log has none. */
  headerLine: z.number().int().nonnegative().optional(),
  timeColumn: column.optional(),
  dateColumn: column.optional(),
  voltageColumn: column.optional(),
  currentColumn: column.optional(),
  temperatureColumn: column.optional(),
  /** Column of each reading's own standard uncertainty; 0 where there is none. */
  uncertaintyColumn: z.union([column, z.literal(0)]).optional(),
  timeUnit: z.enum(["ns", "us", "ms", "s", "min", "h", "d"]).optional(),
  voltageUnit: z.enum(["uV", "mV", "V", "kV"]).optional(),
  currentUnit: z.enum(["uA", "mA", "A", "kA"]).optional(),
  temperatureUnit: z.enum(["C", "K", "F"]).optional(),
  timeFormat: z.enum(["stamp", "clock", "elapsed", "epoch", "excel", "excel-1904"]).optional(),
  dateOrder: z.enum(["day-first", "month-first", "year-first"]).optional(),
  /** `UTC`, a fixed offset such as `+02:00`, or a zone name such as `Europe/Paris`, of stamps that carry none. */
  zone: z.string().min(1).optional(),
  /** Seconds between readings, for a log without a usable time column. */
  intervalS: z.number().positive().max(LONGEST_INTERVAL_S).optional(),
  /** Seconds from the last reading of one file to the first of the next, where elapsed times start anew. */
  fileGapS: z.number().positive().optional(),
  /** Further words that stand for "no reading". */
  missing: z.array(z.string()).optional(),
  /** -1 turns the sign of the current round. */
  currentSign: z.union([z.literal(1), z.literal(-1)]).optional(),
  /** What the clamp shows at no current, in amperes; taken off every reading. */
  currentZeroA: z.number().optional(),
});

/** See `LogOptionsSchema`. */
export type LogOptions = z.infer<typeof LogOptionsSchema>;

/** How one log option is spelled on a command line. */
export interface LogOptionFlag {
  readonly key: keyof LogOptions;
  /** With its placeholder, e.g. `--delimiter CHAR`. */
  readonly flag: string;
  readonly kind: "text" | "number" | "column" | "list";
  readonly help: string;
}

/** Every log option as a flag; messages name the flags by these spellings. */
export const LOG_OPTION_FLAGS: readonly LogOptionFlag[] = [
  { key: "encoding", flag: "--encoding NAME", kind: "text", help: "utf-8, utf-16le, utf-16be or latin-1" },
  { key: "delimiter", flag: "--delimiter CHAR", kind: "text", help: "what parts the columns: , ; | tab or space" },
  { key: "decimal", flag: "--decimal CHAR", kind: "text", help: "the decimal sign: . or ," },
  { key: "headerLine", flag: "--header-line N", kind: "number", help: "line that names the columns; 0 for none" },
  { key: "timeColumn", flag: "--time-column COLUMN", kind: "column", help: "name, or number from 1" },
  {
    key: "dateColumn",
    flag: "--date-column COLUMN",
    kind: "column",
    help: "date, where it stands apart from the time",
  },
  { key: "voltageColumn", flag: "--voltage-column COLUMN", kind: "column", help: "name, or number from 1" },
  { key: "currentColumn", flag: "--current-column COLUMN", kind: "column", help: "name, or number from 1" },
  { key: "temperatureColumn", flag: "--temperature-column COLUMN", kind: "column", help: "name, or number from 1" },
  {
    key: "uncertaintyColumn",
    flag: "--uncertainty-column COLUMN",
    kind: "column",
    help: "standard uncertainty of each voltage reading; 0 for none",
  },
  { key: "timeUnit", flag: "--time-unit UNIT", kind: "text", help: "ns, us, ms, s, min, h or d" },
  { key: "voltageUnit", flag: "--voltage-unit UNIT", kind: "text", help: "uV, mV, V or kV" },
  { key: "currentUnit", flag: "--current-unit UNIT", kind: "text", help: "uA, mA, A or kA" },
  { key: "temperatureUnit", flag: "--temperature-unit UNIT", kind: "text", help: "C, K or F" },
  {
    key: "timeFormat",
    flag: "--time-format FORM",
    kind: "text",
    help: "stamp (date and time), clock, elapsed, epoch, excel or excel-1904",
  },
  { key: "dateOrder", flag: "--date-order ORDER", kind: "text", help: "day-first, month-first or year-first" },
  { key: "zone", flag: "--zone ZONE", kind: "text", help: "UTC, +02:00 or a name such as Europe/Paris" },
  {
    key: "intervalS",
    flag: "--interval SECONDS",
    kind: "number",
    help: "time between readings without a time column, at most 86400",
  },
  {
    key: "fileGapS",
    flag: "--file-gap SECONDS",
    kind: "number",
    help: "time between files whose elapsed times restart",
  },
  { key: "missing", flag: "--missing WORDS", kind: "list", help: "more words for 'no reading', parted by commas" },
  { key: "currentSign", flag: "--current-sign SIGN", kind: "number", help: "-1 turns the clamp round" },
  { key: "currentZeroA", flag: "--current-zero AMPERES", kind: "number", help: "what the clamp shows at no current" },
];
