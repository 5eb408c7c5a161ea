import type { Recording } from "../core/index.js";

const ROWS_PER_PIECE = 20_000;
const GAIN_LINE = "# gain_u: ";

/**
 * The readings as they were used, in the canonical form and in pieces; a current on its own time axis gets rows of its
 * own, readings with uncertainties of their own get a column `u_V`, those of a needle that may lie aside `aside_V`, and a gain that they share stands above them in a line
 * `# gain_u: SHARE`. Each number is the shortest decimal that reads back to the same double.
 */
export function* recordingCsvPieces(recording: Recording): Generator<string> {
  const { timesS, voltagesV, current } = recording;
  const beside = besideVoltages(recording);
  let lines = [
    ...(recording.gainUncertainty === undefined ? [] : [`${GAIN_LINE}${decimal(recording.gainUncertainty)}`]),
    headerOf({ current_A: current !== undefined, u_V: beside.has("u_V"), aside_V: beside.has("aside_V") }),
  ];
  const axisS = current?.timesS ?? new Float64Array(0);
  let volt = 0;
  let ampere = 0;
  while (volt < timesS.length || ampere < axisS.length) {
    const voltS = timesS[volt] ?? Number.POSITIVE_INFINITY;
    const ampereS = axisS[ampere] ?? Number.POSITIVE_INFINITY;
    const timeS = Math.min(voltS, ampereS);
    const withVolt = voltS === timeS;
    const ofVolt = (values: Float64Array) => (withVolt ? decimal(values[volt]!) : "");
    const cells = [decimal(timeS), ofVolt(voltagesV)];
    if (current !== undefined) cells.push(ampereS === timeS ? decimal(current.currentsA[ampere++]!) : "");
    for (const values of beside.values()) cells.push(ofVolt(values));
    if (withVolt) volt += 1;
    lines.push(cells.join(","));
    if (lines.length >= ROWS_PER_PIECE) {
      yield `${lines.join("\n")}\n`;
      lines = [];
    }
  }
  if (lines.length > 0) yield `${lines.join("\n")}\n`;
}

/** What a needle's readings tell beside each voltage, in the order of the columns. */
function besideVoltages({ readingUncertaintiesV, asidesV }: Recording): ReadonlyMap<"u_V" | "aside_V", Float64Array> {
  const beside = new Map<"u_V" | "aside_V", Float64Array>();
  if (readingUncertaintiesV !== undefined) beside.set("u_V", readingUncertaintiesV);
  if (asidesV !== undefined) beside.set("aside_V", asidesV);
  return beside;
}

/** Which columns there are beside time and voltage. */
type Layout = Readonly<Record<"current_A" | "u_V" | "aside_V", boolean>>;

function headerOf(layout: Layout): string {
  const names = (["current_A", "u_V", "aside_V"] as const).filter((name) => layout[name]);
  return ["time_s", "voltage_V", ...names].join(",");
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
  const has = (name: string) => columns.includes(name);
  const layout: Layout = { current_A: has("current_A"), u_V: has("u_V"), aside_V: has("aside_V") };
  if (lines[head] !== headerOf(layout)) {
    return refuse(head, "the header is not time_s,voltage_V[,current_A][,u_V][,aside_V]");
  }
  if (lines.pop() !== "") return refuse(lines.length, "the text does not end with a line break");
  const read = new Map(columns.map((name): [string, number[]] => [name, []]));
  const axisS: number[] = [];
  for (let row = head + 1; row < lines.length; row++) {
    const cells = lines[row]!.split(",");
    const numbers = cells.map((cell) => (cell === "" ? Number.NaN : Number(cell)));
    const problem = rowProblem(cells, numbers, columns);
    if (problem !== null) return refuse(row, problem);
    columns.forEach((name, at) => {
      if (cells[name === "time_s" ? 1 : at] !== "") read.get(name)!.push(numbers[at]!);
    });
    if (layout.current_A && cells[2] !== "") axisS.push(numbers[0]!);
  }
  const of = (name: string) => Float64Array.from(read.get(name)!);
  return {
    ok: true,
    recording: {
      timesS: of("time_s"),
      voltagesV: of("voltage_V"),
      ...(layout.current_A ? { current: { timesS: Float64Array.from(axisS), currentsA: of("current_A") } } : {}),
      ...(layout.u_V ? { readingUncertaintiesV: of("u_V") } : {}),
      ...(layout.aside_V ? { asidesV: of("aside_V") } : {}),
      ...(told === null ? {} : { gainUncertainty }),
    },
  };
}

/** What is wrong with a row, if anything. */
function rowProblem(cells: readonly string[], numbers: readonly number[], columns: readonly string[]): string | null {
  if (cells.length !== columns.length) return `there are ${cells.length} cells`;
  if (cells.some((cell, i) => cell !== "" && decimal(numbers[i]!) !== cell)) {
    return `'${cells.join(",").slice(0, 60)}' is not as the program writes numbers`;
  }
  if (!Number.isFinite(numbers[0])) return "the time is missing";
  const withVolt = cells[1] !== "";
  if (!withVolt && !columns.includes("current_A")) return "the voltage is missing";
  const together = (name: string) => !columns.includes(name) || withVolt === (cells[columns.indexOf(name)] !== "");
  if (!together("u_V")) return "a voltage and its uncertainty do not stand together";
  return together("aside_V") ? null : "a voltage and its number of a needle aside do not stand together";
}

/** The shortest decimal of a double, negative zero kept. */
function decimal(value: number): string {
  return Object.is(value, -0) ? "-0" : String(value);
}
