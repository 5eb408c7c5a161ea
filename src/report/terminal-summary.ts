import stringWidth from "string-width";
import type { Analysis, LoadAnswer, Verdict } from "../core/index.js";
import { asciiText, namesOf, plainLabel } from "./label-text.js";
import { shortCautionText, warningText } from "./messages.js";
import {
  formatChance,
  formatDuration,
  formatMoment,
  formatPercent,
  formatPlain,
  formatQuantity,
  unbrokenFigures,
} from "./number-format.js";
import { batteryText, depthText } from "./quantity-words.js";
import type { ReportContext } from "./report-context.js";
import { headline, nextSteps, searchedLimitText } from "./verdict-words.js";

export interface TerminalStyle {
  /** Width to wrap at; held between 60 and 100. */
  readonly columns: number;
  /** Colour the verdicts; sign and word say the same without it. */
  readonly colour: boolean;
  /** ASCII letters only. */
  readonly ascii: boolean;
  /** Where the report lies; left out where none was written. */
  readonly reportPath?: string;
}

const SIGNS: Record<Verdict, { sign: string; asciiSign: string; colour: string }> = {
  responded: { sign: "\u25bc", asciiSign: "v", colour: "36" },
  "no response": { sign: "\u25ac", asciiSign: "=", colour: "1;31" },
  undecided: { sign: "?", asciiSign: "?", colour: "33" },
};
const VERDICT_WIDTH = 13;
/** Dips listed where no load is named; the report lists all. */
const MOST_DIPS = 8;
const HEADS = ["verdict", "load", "depth", "current", "by noise"] as const;

/** What a person reads in five seconds: one line per load, the battery, what to do next, the cautions, the report. */
export function renderTerminalSummary(analysis: Analysis, context: ReportContext, style: TerminalStyle): string {
  const columns = Math.min(100, Math.max(60, Math.floor(style.columns)));
  const nameOf = namesOf(analysis.loads);
  const part = (label: string, paragraphs: readonly string[]) =>
    labelled(label, style.ascii ? paragraphs.map(asciiText) : paragraphs, columns);
  const lines = [
    ...wrapped(style.ascii ? asciiText(headline(analysis)) : headline(analysis), columns),
    "",
    ...loadLines(analysis, columns, style),
    ...(analysis.loads.length === 0 ? part("Dips", dipLines(analysis)) : []),
    ...part("Battery", [batteryText(analysis)]),
    ...part("Next", nextSteps(analysis, context.wholeBus)),
    ...part(
      "Doubts",
      analysis.warnings.map((warning) => warningText(warning, nameOf)),
    ),
    ...part("Caution", [analysis.cautions.map(shortCautionText).join(" ")]),
    ...part("Read", [readLine(analysis, context), ...(context.digest ?? []).map((text) => plainLabel(text, 600))]),
  ];
  const report = style.reportPath === undefined ? "" : `Report   ${plainLabel(style.reportPath, 4096)}\n`;
  return `${lines.join("\n")}\n${report}`;
}

function dipLines(analysis: Analysis): string[] {
  const shown = analysis.dips.slice(0, MOST_DIPS).map((dip) => {
    const current = dip.current === null ? "" : `, ${formatQuantity(dip.current, { form: "compact" })}`;
    const resistance =
      dip.resistance === null ? "" : `, ${formatQuantity(dip.resistance.resistance, { form: "compact" })}`;
    return `at ${formatMoment(dip.onsetS)}, ${formatDuration(dip.durationS)} long: ${formatQuantity(dip.depth, { form: "compact" })}${current}${resistance}`;
  });
  const hidden = analysis.dips.length - shown.length;
  return hidden > 0 ? [...shown, `and ${hidden.toLocaleString("en")} more in the report`] : shown;
}

function loadLines(analysis: Analysis, columns: number, style: TerminalStyle): string[] {
  if (analysis.loads.length === 0) return [];
  const nameOf = namesOf(analysis.loads);
  const rows = analysis.loads.map((load) => [load.verdict, nameOf(load.id), ...figures(load)]);
  const shown = style.ascii ? rows.map((row) => row.map(asciiText)) : rows;
  const widths = HEADS.map((head, i) => Math.max(head.length, ...shown.map((row) => stringWidth(row[i]!))));
  widths[0] = VERDICT_WIDTH;
  const figuresWidth = (widths[2] ?? 0) + (widths[3] ?? 0) + (widths[4] ?? 0) + 6;
  const oneLine = columns - VERDICT_WIDTH - 2 - figuresWidth >= Math.min(12, widths[1]!);
  widths[1] = Math.min(widths[1]!, columns - VERDICT_WIDTH - 2 - (oneLine ? figuresWidth : widths[2]! + 2));
  const write = (cells: readonly string[], first: string) => {
    const [, name, depth, current, chance] = cells.map((cell, i) => padded(cell, widths[i]!));
    const head = `${first}  ${name}  ${depth}`;
    const tail = `${current}  ${chance}`;
    return oneLine
      ? [`${head}  ${tail}`.trimEnd()]
      : [head.trimEnd(), `${" ".repeat(VERDICT_WIDTH + 2)}${tail}`.trimEnd()];
  };
  return [
    ...write(HEADS, padded("verdict", VERDICT_WIDTH)),
    ...analysis.loads.flatMap((load, i) => write(shown[i]!, verdictCell(load.verdict, style))),
    ...wrapped(style.ascii ? asciiText(legend(analysis)) : legend(analysis), columns - VERDICT_WIDTH - 2).map(
      (line) => `${" ".repeat(VERDICT_WIDTH + 2)}${line}`,
    ),
    "",
  ];
}

function figures(load: LoadAnswer): string[] {
  return [
    depthText(load),
    load.current === null ? "not known" : formatQuantity(load.current, { form: "compact" }),
    formatChance(load.pValue),
  ];
}

function legend(analysis: Analysis): string {
  const coverage = analysis.loads.find((load) => load.depth !== null)?.depth?.coverage;
  const bounds = coverage === undefined ? "" : `\u00b1 holds with ${formatPercent(coverage)}; `;
  return `${bounds}by noise: chance that noise alone looks so`;
}

function verdictCell(verdict: Verdict, style: TerminalStyle): string {
  const { sign, asciiSign, colour } = SIGNS[verdict];
  const cell = padded(`${style.ascii ? asciiSign : sign} ${verdict}`, VERDICT_WIDTH);
  return style.colour ? `\u001b[${colour}m${cell}\u001b[0m` : cell;
}

function readLine(analysis: Analysis, context: ReportContext): string {
  const { sampleCount, durationS, sampleRateHz } = analysis.recording;
  const least = analysis.detection.minimumDetectableDepthV;
  const ofMarks = least === null ? "" : `; dips from ${formatPlain(least, "V", { digits: 2 })} on would be found`;
  const searched = searchedLimitText(analysis);
  const found = searched === null ? ofMarks : `; ${searched}`;
  return `${plainLabel(context.source)}: ${sampleCount.toLocaleString("en")} readings, ${formatPlain(durationS, "s")}, ${formatPlain(sampleRateHz, "Hz", { digits: 2 })}, noise ${formatPlain(analysis.noise.sigmaV, "V", { digits: 2 })}${found}.`;
}

/** Paragraphs behind a label at the margin; nothing where there is nothing to say. */
function labelled(label: string, paragraphs: readonly string[], columns: number): string[] {
  const lines = paragraphs.filter((one) => one !== "").flatMap((one) => wrapped(one, columns - 9));
  return lines.map((line, i) => `${padded(i === 0 ? label : "", 9)}${line}`);
}

function padded(text: string, width: number): string {
  const missing = width - stringWidth(text);
  return missing >= 0 ? text + " ".repeat(missing) : cut(text, width);
}

function cut(text: string, width: number): string {
  let shorter = text;
  for (let signs = width; stringWidth(shorter) > width; signs--) shorter = plainLabel(text, signs);
  return padded(shorter, width);
}

/** Breaks at spaces, never inside a figure; a word longer than the line is broken where the line ends. */
function wrapped(text: string, columns: number): string[] {
  const lines: string[] = [];
  let line = "";
  const words = unbrokenFigures(text).split(" ");
  for (const word of words.map((one) => one.replaceAll("\u00a0", " "))) {
    const longer = line === "" ? word : `${line} ${word}`;
    if (stringWidth(longer) <= columns) {
      line = longer;
      continue;
    }
    if (line !== "") lines.push(line);
    line = word;
    while (stringWidth(line) > columns) {
      const signs = [...line];
      let taken = columns;
      while (stringWidth(signs.slice(0, taken).join("")) > columns) taken--;
      lines.push(signs.slice(0, taken).join(""));
      line = signs.slice(taken).join("");
    }
  }
  return line === "" ? lines : [...lines, line];
}
