import { CsvError, parse } from "csv-parse/sync";
import type { BusProfile, SwitchingMark } from "../../core/index.js";
import { InputError } from "../input-error.js";
import { nearestWord } from "./nearest-word.js";

const COLUMNS = ["time_s", "load", "action"] as const;
const LONGEST_MARKS_CHARACTERS = 10_000_000;
const HEADER_REMEDY = "begin with the line time_s,load,action";

/**
 * The switching marks in a CSV text, in the order of time; `load` is null where the cell is empty.
 *
 * With a profile each load must be one of its ids. Whether an off follows its on is left to the analysis.
 *
 * @throws InputError naming the line, what was found and what to write instead.
 */
export function readMarks(text: string, fileName: string, profile: BusProfile | null): SwitchingMark[] {
  const rows = parseRows(text, fileName);
  const header = rows.shift();
  if (header === undefined) {
    throw new InputError({ file: fileName, problem: "the file of switching marks is empty", remedy: HEADER_REMEDY });
  }
  const columnIndex = findColumns(header, fileName);
  const marks = rows.map((row) => readMark(row, columnIndex, fileName, profile));
  if (marks.length === 0) {
    throw new InputError({
      file: fileName,
      problem: "the file has a header but no switching marks",
      remedy: "write one line per switching, such as 12.5,probe-heat,on, or leave out --marks",
    });
  }
  return marks.sort((a, b) => a.timeS - b.timeS);
}

/** The marks as a CSV text that `readMarks` reads back to the same marks, and how well their times are known if that is told. */
export function writeMarks(marks: readonly SwitchingMark[], uncertaintyS?: number): string {
  const told = uncertaintyS === undefined ? [] : [`# times known to ${uncertaintyS} s (standard uncertainty)`];
  const lines = marks.map((mark) => `${mark.timeS},${mark.load ?? ""},${mark.action}`);
  return `${[...told, COLUMNS.join(","), ...lines].join("\n")}\n`;
}

/** Standard uncertainty of the times that a text of marks tells of itself, seconds; null where it tells none. */
export function toldUncertaintyS(marksText: string): number | null {
  const told = /^# times known to (\d{1,2}(?:\.\d{1,6})?) s \(standard uncertainty\)\r?$/m.exec(marksText);
  const uncertaintyS = Number(told?.[1]);
  return uncertaintyS >= 0.01 && uncertaintyS <= 5 ? uncertaintyS : null;
}

interface Row {
  readonly line: number;
  readonly cells: readonly string[];
}

function parseRows(text: string, fileName: string): Row[] {
  if (text.length > LONGEST_MARKS_CHARACTERS || text.includes("\u0000")) {
    throw new InputError({
      file: fileName,
      problem: text.includes("\u0000")
        ? "this is a binary file, not a list of switching marks"
        : `the file of switching marks is ${(text.length / 1e6).toFixed(1)} million characters long`,
      remedy: "give the CSV file with the columns time_s,load,action",
    });
  }
  const headerLine = text.split(/\r?\n/).find((line) => line.trim() !== "" && !line.startsWith("#")) ?? "";
  const delimiter = [",", ";", "\t"].find((candidate) => headerLine.includes(candidate)) ?? ",";
  try {
    const parsed = parse(text, {
      bom: true,
      comment: "#",
      comment_no_infix: true,
      delimiter,
      info: true,
      relax_column_count: true,
      skip_empty_lines: true,
      trim: true,
    }) as unknown as { record: string[]; info: { lines: number } }[];
    return parsed.map(({ record, info }) => ({ line: info.lines, cells: record }));
  } catch (error) {
    if (!(error instanceof CsvError)) throw error;
    throw new InputError({
      file: fileName,
      ...(typeof error.lines === "number" ? { line: error.lines } : {}),
      problem: "the line cannot be split into cells, probably because of a stray quote",
      remedy: "write each line as time_s,load,action, such as 12.5,probe-heat,on",
    });
  }
}

function findColumns(header: Row, fileName: string): Record<(typeof COLUMNS)[number], number> {
  const names = header.cells.map((cell) => cell.toLowerCase());
  const at = (column: string) => {
    const index = names.indexOf(column);
    if (index >= 0) return index;
    throw new InputError({
      file: fileName,
      line: header.line,
      problem: `there is no column '${column}' (found ${header.cells.map((cell) => `'${cell}'`).join(", ")})`,
      remedy: HEADER_REMEDY,
    });
  };
  return { time_s: at("time_s"), load: at("load"), action: at("action") };
}

function readMark(
  row: Row,
  columnIndex: Record<(typeof COLUMNS)[number], number>,
  fileName: string,
  profile: BusProfile | null,
): SwitchingMark {
  const refuse = (problem: string, remedy: string) =>
    new InputError({ file: fileName, line: row.line, problem, remedy });
  const cell = (column: (typeof COLUMNS)[number]) => row.cells[columnIndex[column]] ?? "";

  const timeText = cell("time_s");
  const timeS = timeText === "" ? Number.NaN : Number(timeText.replace(",", "."));
  if (!Number.isFinite(timeS) || !/^[+-]?[\d.,]+(e[+-]?\d+)?$/i.test(timeText)) {
    throw refuse(`time_s is '${timeText}'`, "write seconds from the recording's own zero, such as 12.5");
  }
  const action = cell("action").toLowerCase();
  if (action !== "on" && action !== "off") throw refuse(`action is '${cell("action")}'`, "write on or off");
  const load = cell("load");
  if (load !== "" && profile !== null && !profile.loads.some(({ id }) => id === load)) {
    const ids = profile.loads.map(({ id }) => id);
    const nearest = nearestWord(load, ids);
    throw refuse(
      `load '${load}' is not in the profile`,
      ids.length === 0
        ? "the profile names no loads; add this one to it"
        : `${nearest === null ? "write" : `did you mean '${nearest}'? Write`} one of ${ids.join(", ")}`,
    );
  }
  return { timeS, load: load === "" ? null : load, action };
}
