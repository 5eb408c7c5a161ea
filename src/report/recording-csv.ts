import type { Recording } from "../core/index.js";

const ROWS_PER_PIECE = 20_000;

/**
 * The readings as they were used, in the canonical form and in pieces; a current on its own time axis gets rows of its
 * own. Each number is the shortest decimal that reads back to the same double.
 */
export function* recordingCsvPieces(recording: Recording): Generator<string> {
  const { timesS, voltagesV, current } = recording;
  let lines = [current === undefined ? "time_s,voltage_V" : "time_s,voltage_V,current_A"];
  const axisS = current?.timesS ?? new Float64Array(0);
  let volt = 0;
  let ampere = 0;
  while (volt < timesS.length || ampere < axisS.length) {
    const voltS = timesS[volt] ?? Number.POSITIVE_INFINITY;
    const ampereS = axisS[ampere] ?? Number.POSITIVE_INFINITY;
    const timeS = Math.min(voltS, ampereS);
    const voltCell = voltS === timeS ? decimal(voltagesV[volt++]!) : "";
    if (current === undefined) lines.push(`${decimal(timeS)},${voltCell}`);
    else {
      const ampereCell = ampereS === timeS ? decimal(current.currentsA[ampere++]!) : "";
      lines.push(`${decimal(timeS)},${voltCell},${ampereCell}`);
    }
    if (lines.length >= ROWS_PER_PIECE) {
      yield `${lines.join("\n")}\n`;
      lines = [];
    }
  }
  if (lines.length > 0) yield `${lines.join("\n")}\n`;
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
  const header = lines[0];
  if (header !== "time_s,voltage_V" && header !== "time_s,voltage_V,current_A") {
    return refuse(0, "the header is not time_s,voltage_V or time_s,voltage_V,current_A");
  }
  if (lines.pop() !== "") return refuse(lines.length, "the text does not end with a line break");
  const withCurrent = header.endsWith("current_A");
  const [timesS, voltagesV, axisS, currentsA]: number[][] = [[], [], [], []];
  for (let row = 1; row < lines.length; row++) {
    const cells = lines[row]!.split(",");
    const numbers = cells.map((cell) => (cell === "" ? Number.NaN : Number(cell)));
    const [timeS, voltV, ampereA] = numbers as [number, number, number];
    if (cells.length !== (withCurrent ? 3 : 2)) return refuse(row, `there are ${cells.length} cells`);
    if (cells.some((cell, i) => cell !== "" && decimal(numbers[i]!) !== cell)) {
      return refuse(row, `'${lines[row]!.slice(0, 60)}' is not as the program writes numbers`);
    }
    if (!Number.isFinite(timeS)) return refuse(row, "the time is missing");
    if (cells[1] === "" && !withCurrent) return refuse(row, "the voltage is missing");
    if (cells[1] !== "") {
      timesS!.push(timeS);
      voltagesV!.push(voltV);
    }
    if (withCurrent && cells[2] !== "") {
      axisS!.push(timeS);
      currentsA!.push(ampereA);
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
    },
  };
}

/** The shortest decimal of a double, negative zero kept. */
function decimal(value: number): string {
  return Object.is(value, -0) ? "-0" : String(value);
}
