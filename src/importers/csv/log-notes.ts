/** What the importer concluded about a log, or wants the person to know; the sentences stand in `logMessage`. */
export type LogFinding =
  | { readonly code: "encoding"; readonly encoding: string; readonly because: string }
  | { readonly code: "compressed" }
  | { readonly code: "dialect"; readonly delimiter: string; readonly decimal: string; readonly told: boolean }
  | { readonly code: "header"; readonly line: number | null; readonly firstLine: number }
  | {
      readonly code: "column";
      readonly column: string;
      readonly role: "voltage" | "current" | "temperature" | "uncertainty" | "aside";
      readonly unit: string;
      readonly because: ColumnReason;
      readonly unitBecause: UnitReason;
    }
  | {
      readonly code: "column-left-out";
      readonly column: string;
      readonly role: string;
      readonly why: "companion" | "alternating";
    }
  | { readonly code: "time"; readonly column: string; readonly form: string; readonly because: TimeReason }
  | { readonly code: "interval"; readonly intervalS: number; readonly because: "told" | "preamble" }
  | {
      readonly code: "date-order";
      readonly order: string;
      readonly because: "only-valid" | "continuous" | "told" | "header" | "dots";
    }
  | { readonly code: "zone"; readonly zone: string; readonly because: "stamps" | "told" | "none" }
  | { readonly code: "missing-cells"; readonly role: string; readonly cellCount: number; readonly firstLine: number }
  | { readonly code: "not-a-number"; readonly role: string; readonly cellCount: number; readonly firstLine: number }
  /** Numbers that stand for overload, such as 9.9E37. */
  | { readonly code: "overload"; readonly role: string; readonly cellCount: number; readonly firstLine: number }
  /** Voltages left out that the bus cannot have had; the farthest and where it stands. */
  | {
      readonly code: "far-off";
      readonly cellCount: number;
      readonly usualV: number;
      readonly valueV: number;
      readonly line: number;
    }
  /** Voltages below zero, turned round. */
  | { readonly code: "leads-exchanged"; readonly usualV: number }
  | { readonly code: "rows-without-time"; readonly rowCount: number; readonly firstLine: number }
  | {
      readonly code: "rows-skipped";
      readonly what: "repeated-header" | "comment" | "text";
      readonly rowCount: number;
      readonly firstLine: number;
    }
  /** A gain's standard uncertainty that all voltage readings share, as a share of any change. */
  | { readonly code: "shared-gain"; readonly gainUncertainty: number }
  | { readonly code: "cut-short"; readonly line: number }
  | { readonly code: "sorted"; readonly rowCount: number; readonly largestS: number; readonly line: number }
  | { readonly code: "same-times"; readonly rowCount: number; readonly line: number }
  | { readonly code: "spread"; readonly stampS: number; readonly perStamp: number; readonly even: boolean }
  | { readonly code: "midnight"; readonly count: number; readonly line: number }
  | { readonly code: "twelve-hours"; readonly count: number; readonly line: number }
  | { readonly code: "clock-set-back"; readonly line: number }
  | { readonly code: "clock-set-forward"; readonly line: number }
  | { readonly code: "repeated-hour"; readonly line: number }
  | { readonly code: "unit-changes"; readonly role: string; readonly units: readonly string[] }
  | { readonly code: "mixed-coupling"; readonly role: string }
  | {
      readonly code: "alternating-left-out";
      readonly role: string;
      readonly cellCount: number;
      readonly firstLine: number;
    }
  | { readonly code: "current-sign"; readonly sign: number }
  | { readonly code: "current-zero"; readonly zeroA: number }
  | { readonly code: "files-joined"; readonly fileCount: number }
  | { readonly code: "files-ordered" }
  /** Rows of a file turned round; its name where there are several. */
  | { readonly code: "newest-first"; readonly file: string | null }
  | { readonly code: "time-scale-doubt"; readonly stepS: number };

export type ColumnReason = "told" | "name" | "unit" | "only-one" | "place";
export type UnitReason = "told" | "header" | "cells" | "size" | "assumed";
export type TimeReason = "told" | "name" | "form" | "size" | "rising" | "place";

/** One finding with its sentence. */
export type UnderstoodNote = LogFinding & { readonly text: string };

const WARNINGS: ReadonlySet<LogFinding["code"]> = new Set([
  "not-a-number",
  "far-off",
  "leads-exchanged",
  "rows-without-time",
  "cut-short",
  "sorted",
  "same-times",
  "clock-set-back",
  "clock-set-forward",
  "repeated-hour",
  "twelve-hours",
  "mixed-coupling",
  "time-scale-doubt",
]);

/** Whether the person should look at this before trusting the result. */
export function isWarning(finding: LogFinding): boolean {
  return WARNINGS.has(finding.code);
}
