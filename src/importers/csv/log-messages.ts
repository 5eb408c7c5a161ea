import type { ColumnReason, LogFinding, TimeReason, UnderstoodNote, UnitReason } from "./log-notes.js";

/** The finding together with its sentence. */
export function note(finding: LogFinding): UnderstoodNote {
  return { ...finding, text: logMessage(finding) };
}

const COLUMN_REASONS: Readonly<Record<ColumnReason, string>> = {
  told: "as you said",
  name: "by its name",
  unit: "by its unit",
  "only-one": "because no other column is left",
  place: "by its place",
};

const UNIT_REASONS: Readonly<Record<UnitReason, string>> = {
  told: "the unit as you said",
  header: "the unit stands in the header",
  cells: "the unit stands beside the numbers",
  size: "the unit by the size of the numbers",
  assumed: "no unit is given",
};

const TIME_REASONS: Readonly<Record<TimeReason, string>> = {
  told: "as you said",
  name: "by its name",
  form: "by the form of its cells",
  size: "by the size of its numbers",
  rising: "because its numbers only rise",
  place: "by its place",
};

const plural = (count: number, one: string, more = `${one}s`): string => `${count} ${count === 1 ? one : more}`;

/** The sentence for a finding; how to overrule it stands with it where there is a choice. */
function logMessage(finding: LogFinding): string {
  switch (finding.code) {
    case "encoding":
      return `text read as ${finding.encoding} (${finding.because}; --encoding overrules)`;
    case "compressed":
      return "the file is compressed with gzip and was unpacked on the way";
    case "dialect":
      return `columns parted by ${delimiterName(finding.delimiter)}, decimal sign '${finding.decimal}'${finding.told ? ", as you said" : " (--delimiter and --decimal overrule)"}`;
    case "header":
      return finding.line === null
        ? `no header; readings start on line ${finding.firstLine} (--header-line overrules)`
        : `columns are named on line ${finding.line}; readings start on line ${finding.firstLine} (--header-line overrules)`;
    case "column":
      if (finding.role === "uncertainty") {
        return `${finding.column} read as the standard uncertainty of each reading in ${unitName(finding.unit)}, ${COLUMN_REASONS[finding.because]} (--uncertainty-column overrules)`;
      }
      if (finding.role === "aside") {
        return `${finding.column} read as what each reading would change by if the needle lay aside, in ${unitName(finding.unit)}, ${COLUMN_REASONS[finding.because]}`;
      }
      return `${finding.column} read as ${finding.role} in ${unitName(finding.unit)}, ${COLUMN_REASONS[finding.because]}; ${UNIT_REASONS[finding.unitBecause]} (--${finding.role}-column and --${finding.role}-unit overrule)`;
    case "column-left-out":
      return finding.why === "companion"
        ? `${finding.column} left out: its name marks it as a companion of the ${finding.role} (--${finding.role}-column overrules)`
        : `${finding.column} left out: it holds an alternating part (--${finding.role}-column overrules)`;
    case "time":
      return `time taken from ${finding.column}, read as ${finding.form}, ${TIME_REASONS[finding.because]} (--time-column, --time-format and --time-unit overrule)`;
    case "shared-gain":
      return `all voltages share a gain known to ${(100 * finding.gainUncertainty).toPrecision(2)} % (standard uncertainty), as the line gain_u says`;
    case "interval":
      return `readings placed ${finding.intervalS} s apart, ${finding.because === "told" ? "as you said" : "as the lines above the readings say"} (--interval overrules)`;
    case "date-order":
      return `dates read ${finding.order}, ${dateOrderReason(finding.because)} (--date-order overrules)`;
    case "zone":
      return zoneMessage(finding.zone, finding.because);
    default:
      return rowMessage(finding);
  }
}

function rowMessage(
  finding: Exclude<
    LogFinding,
    {
      code:
        | "encoding"
        | "compressed"
        | "dialect"
        | "header"
        | "column"
        | "column-left-out"
        | "time"
        | "interval"
        | "shared-gain"
        | "date-order"
        | "zone";
    }
  >,
): string {
  switch (finding.code) {
    case "missing-cells":
      return `${plural(finding.cellCount, `${finding.role} cell`)} without a reading left out (${where(finding.cellCount, finding.firstLine)})`;
    case "not-a-number":
      return `${plural(finding.cellCount, `${finding.role} cell that reads`, `${finding.role} cells that read`)} NaN or infinity left out (${where(finding.cellCount, finding.firstLine)})`;
    case "overload":
      return `${plural(finding.cellCount, `${finding.role} cell`)} with a number that stands for overload left out (${where(finding.cellCount, finding.firstLine)})`;
    case "far-off":
      return `${plural(finding.cellCount, "voltage reading lies", "voltage readings lie")} far off the usual ${short(finding.usualV)} V, up to ${finding.valueV} V on line ${finding.line}, and ${finding.cellCount === 1 ? "was" : "were"} left out`;
    case "leads-exchanged":
      return `the voltage is negative (usually ${short(finding.usualV)} V), as with the meter's leads exchanged; its sign was turned round`;
    case "rows-without-time":
      return `${plural(finding.rowCount, "row")} without a time left out (${where(finding.rowCount, finding.firstLine)})`;
    case "rows-skipped":
      return `${plural(finding.rowCount, ...skippedName(finding.what))} among the readings left out (${where(finding.rowCount, finding.firstLine)})`;
    case "cut-short":
      return `the last line (${finding.line}) is cut short and was left out`;
    case "sorted":
      return `${plural(finding.rowCount, "row")} went back in time by up to ${short(finding.largestS)} s (${where(finding.rowCount, finding.line)}); readings were put in order of time`;
    case "same-times":
      return `${plural(finding.rowCount, "row repeats", "rows repeat")} the time of the row before (${where(finding.rowCount, finding.line)}); both readings were kept`;
    case "spread":
      return `stamps only tell ${short(finding.stampS)} s and hold about ${short(finding.perStamp)} readings each; ${finding.even ? "readings were spread at one even rate that agrees with every stamp" : "readings were spread evenly within each stamp"}`;
    case "midnight":
      return `the clock passed midnight ${finding.count === 1 ? "once" : `${finding.count} times`} (line ${finding.line}); later readings were put on the next day`;
    case "twelve-hours":
      return `the clock shows twelve hours without am or pm and started over ${finding.count === 1 ? "once" : `${finding.count} times`} (line ${finding.line}); times were carried on`;
    case "clock-set-back":
      return `the clock went back one hour on line ${finding.line}, as at the end of summer time; times were carried on (--zone makes this certain)`;
    case "clock-set-forward":
      return `the clock went forward one hour on line ${finding.line} while the readings went on; taken as the start of summer time, so no gap was left (--zone makes this certain)`;
    case "repeated-hour":
      return `local times from line ${finding.line} on fall in the hour that occurs twice; the order of the readings decided which one`;
    case "unit-changes":
      return `the ${finding.role} changes its unit along the way (${finding.units.join(", ")}); every reading was converted by its own`;
    case "mixed-coupling":
      return `the ${finding.role} is an AC+DC reading: it has no sign and any ripple adds to it, so steps may read too small`;
    case "alternating-left-out":
      return `${plural(finding.cellCount, `${finding.role} reading`)} taken in an AC range left out (${where(finding.cellCount, finding.firstLine)})`;
    case "current-sign":
      return finding.sign === -1
        ? "the sign of the current was turned round, as you said"
        : "the sign of the current was kept, as you said";
    case "current-zero":
      return `${finding.zeroA} A taken off every current reading, as you said`;
    case "files-joined":
      return `${finding.fileCount} files read as one recording`;
    case "files-ordered":
      return "the files were put in the order of their times";
    case "newest-first":
      return `the rows${finding.file === null ? "" : ` of ${finding.file}`} stand newest first and were turned round`;
    case "time-scale-doubt":
      return `the time column has no unit and was read as seconds, ${short(finding.stepS)} s between readings; if they are milliseconds say --time-unit ms`;
  }
}

const where = (count: number, line: number): string => (count === 1 ? `line ${line}` : `the first on line ${line}`);

const short = (value: number): string => String(Number(value.toPrecision(3)));

export function delimiterName(delimiter: string): string {
  const names: Readonly<Record<string, string>> = {
    tab: "tabs",
    space: "spaces",
    ",": "commas",
    ";": "semicolons",
    "|": "bars",
  };
  return names[delimiter] ?? delimiter;
}

export const unitName = (unit: string): string => (unit === "C" || unit === "F" ? `°${unit}` : unit);

function dateOrderReason(because: "only-valid" | "continuous" | "told" | "header" | "dots"): string {
  switch (because) {
    case "only-valid":
      return "because only so does every date exist";
    case "continuous":
      return "because only so do the dates follow each other";
    case "told":
      return "as you said";
    case "header":
      return "as the header says";
    case "dots":
      return "as is usual for dates with dots";
  }
}

function zoneMessage(zone: string, because: "stamps" | "told" | "none"): string {
  if (because === "stamps") return `the stamps carry their zone (${zone})`;
  if (because === "told") return `local times read in the zone ${zone}, as you said`;
  return "the stamps carry no zone; the date was taken as UTC (--zone overrules)";
}

function skippedName(what: "repeated-header" | "comment" | "text"): [string, string] {
  if (what === "repeated-header") return ["repeated header line", "repeated header lines"];
  return what === "comment" ? ["comment line", "comment lines"] : ["line of text", "lines of text"];
}
