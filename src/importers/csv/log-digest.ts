import { delimiterName, unitName } from "./log-messages.js";
import { isWarning, type LogFinding, type UnderstoodNote } from "./log-notes.js";

const ROLES = ["voltage", "current", "temperature", "uncertainty"] as const;

/** How a log was read, on one or two lines, and below it what the person should look at. */
export function logDigest(notes: readonly UnderstoodNote[]): string[] {
  const columns = notes.filter((one) => one.code === "column");
  const values = ROLES.flatMap((role) => columns.filter((one) => one.role === role)).map(
    ({ role, column, unit, unitBecause }) =>
      `${role} from ${column} in ${unitName(unit)}${unitBecause === "assumed" || unitBecause === "size" ? " (no unit is given)" : ""}`,
  );
  const parts = [...values, ...notes.flatMap(timePart), ...notes.flatMap(dialectPart)];
  const first = parts.join("; ");
  const doubts = notes.filter(isWarning).map(({ text }) => `${capital(text)}.`);
  return [...(first === "" ? [] : [`${capital(first)}.`]), ...doubts];
}

function timePart(note: LogFinding): string[] {
  switch (note.code) {
    case "time":
      return [`time from ${note.column}, ${note.form}`];
    case "interval":
      return [`readings ${note.intervalS} s apart`];
    case "date-order":
      return [`dates ${note.order}`];
    case "zone":
      return [note.because === "none" ? "no zone, taken as UTC" : `zone ${note.zone}`];
    case "spread":
      return [`stamps of ${note.stampS} s spread over their readings`];
    default:
      return [];
  }
}

function dialectPart(note: LogFinding): string[] {
  return note.code === "dialect"
    ? [`${delimiterName(note.delimiter)} between columns, decimal sign '${note.decimal}'`]
    : [];
}

const capital = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);
