import type { Recording } from "../core/index.js";

const ROWS_PER_PIECE = 20_000;
const GAIN_LINE = "# gain_u: ";

/**
 * The readings as they were used, in the canonical form and in pieces; a current on its own time axis gets rows of its
 * own, readings with uncertainties of their own get a column `u_V`, and a gain that they share stands above them in a line
 * `# gain_u: SHARE`. Each number is the shortest decimal that reads back to the same double.
 */
export function* recordingCsvPieces(recording: Recording): Generator<string> {
  const { timesS, voltagesV, current, readingUncertaintiesV: uncertaintiesV } = recording;
  let lines = [
    ...(recording.gainUncertainty === undefined ? [] : [`${GAIN_LINE}${decimal(recording.gainUncertainty)}`]),
    headerOf(current !== undefined, uncertaintiesV !== undefined),
  ];
  const axisS = current?.timesS ?? new Float64Array(0);
  let volt = 0;
  let ampere = 0;
  while (volt < timesS.length || ampere < axisS.length) {
    const voltS = timesS[volt] ?? Number.POSITIVE_INFINITY;
    const ampereS = axisS[ampere] ?? Number.POSITIVE_INFINITY;
    const timeS = Math.min(voltS, ampereS);
    const withVolt = voltS === timeS;
    const voltCell = withVolt ? decimal(voltagesV[volt]!) : "";
    const ampereCell =
      current === undefined ? "" : `,${ampereS === timeS ? decimal(current.currentsA[ampere++]!) : ""}`;
    const uncertaintyCell = uncertaintiesV === undefined ? "" : `,${withVolt ? decimal(uncertaintiesV[volt]!) : ""}`;
    if (withVolt) volt += 1;
    lines.push(`${decimal(timeS)},${voltCell}${ampereCell}${uncertaintyCell}`);
    if (lines.length >= ROWS_PER_PIECE) {
      yield `${lines.join("\n")}\n`;
      lines = [];
    }
  }
  if (lines.length > 0) yield `${lines.join("\n")}\n`;
}

function headerOf(withCurrent: boolean, withUncertainties: boolean): string {
  return `time_s,voltage_V${withCurrent ? ",current_A" : ""}${withUncertainties ? ",u_V" : ""}`;
}

/** The whole text of `recordingCsvPieces`. */
export function recordingCsv(recording: Recording): string {
  return [...recordingCsvPieces(recording)].join("");
}

/** A recording read back, or the line at which its text is not what `recordingCsv` writes. */
export type RecordingReading =
  | { readonly ok: true; readonly recording: Recording }
  | { readonly ok: false; readonly line: number; readonly problem: string };

/**
 * Reads exactly what `recordingCsv` writes, to the same doubles; other logs go through the importer, which allows more
 * and guesses.
 */
export function readRecordingCsv(text: string): RecordingReading {
  const lines = text.split("\n");
  const refuse = (line: number, problem: string): RecordingReading => ({ ok: false, line: line + 1, problem });
  const told = lines[0]?.startsWith(GAIN_LINE) === true ? lines[0].slice(GAIN_LINE.length) : null;
  const gainUncertainty = Number(told);
  if (told !== null && (!(gainUncertainty > 0) || decimal(gainUncertainty) !== told)) {
    return refuse(0, `'${told.slice(0, 60)}' is no share as the program writes numbers`);
  }
  const head = told === null ? 0 : 1;
  const columns = (lines[head] ?? "").split(",");
  const [withCurrent, withUncertainties] = [columns.includes("current_A"), columns.includes("u_V")];
  if (lines[head] !== headerOf(withCurrent, withUncertainties)) {
    return refuse(head, "the header is not time_s,voltage_V[,current_A][,u_V]");
  }
  if (lines.pop() !== "") return refuse(lines.length, "the text does not end with a line break");
  const [timesS, voltagesV, axisS, currentsA, uncertaintiesV]: number[][] = [[], [], [], [], []];
  for (let row = head + 1; row < lines.length; row++) {
    const cells = lines[row]!.split(",");
    const numbers = cells.map((cell) => (cell === "" ? Number.NaN : Number(cell)));
    const problem = rowProblem(cells, numbers, { columns, withCurrent, withUncertainties });
    if (problem !== null) return refuse(row, problem);
    const [timeS, voltV] = numbers as [number, number];
    if (cells[1] !== "") {
      timesS!.push(timeS);
      voltagesV!.push(voltV);
      if (withUncertainties) uncertaintiesV!.push(numbers.at(-1)!);
    }
    if (withCurrent && cells[2] !== "") {
      axisS!.push(timeS);
      currentsA!.push(numbers[2]!);
    }
  }
  return {
    ok: true,
    recording: {
      timesS: Float64Array.from(timesS!),
      voltagesV: Float64Array.from(voltagesV!),
      ...(withCurrent
        ? { current: { timesS: Float64Array.from(axisS!), currentsA: Float64Array.from(currentsA!) } }
        : {}),
      ...(withUncertainties ? { readingUncertaintiesV: Float64Array.from(uncertaintiesV!) } : {}),
      ...(told === null ? {} : { gainUncertainty }),
    },
  };
}

/** What is wrong with a row, if anything. */
function rowProblem(
  cells: readonly string[],
  numbers: readonly number[],
  layout: { readonly columns: readonly string[]; readonly withCurrent: boolean; readonly withUncertainties: boolean },
): string | null {
  if (cells.length !== layout.columns.length) return `there are ${cells.length} cells`;
  if (cells.some((cell, i) => cell !== "" && decimal(numbers[i]!) !== cell)) {
    return `'${cells.join(",").slice(0, 60)}' is not as the program writes numbers`;
  }
  if (!Number.isFinite(numbers[0])) return "the time is missing";
  const withVolt = cells[1] !== "";
  if (!withVolt && !layout.withCurrent) return "the voltage is missing";
  if (layout.withUncertainties && withVolt === (cells.at(-1) === "")) {
    return "a voltage and its uncertainty do not stand together";
  }
  return null;
}

/** The shortest decimal of a double, negative zero kept. */
function decimal(value: number): string {
  return Object.is(value, -0) ? "-0" : String(value);
}
