import { readFile, stat } from "node:fs/promises";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { type Command, Option } from "commander";
import { InputError } from "../importers/input-error.js";
import { readBytes } from "./input-file.js";
import { checkOutputFolder, refuseOverwriting, writeIntoFolder } from "./output-folder.js";
import { describeRecordOptions, type RecordWritingOptions, recordWriting } from "./record-options.js";
import { addSignatures, htmlFile, pdfFile, readPlotlySource } from "./report-files.js";
import { readReportFonts } from "./report-fonts.js";
import { judgementSha256, softwareVersion } from "./software-version.js";
import { print, progressLine } from "./terminal.js";
import type { Redrawing } from "./verify-redraw.js";

const FORMATS = ["html", "pdf", "svg", "png", "txt"] as const;
type Format = (typeof FORMATS)[number];

interface ReportOptions extends Omit<RecordWritingOptions, "entryTemplate"> {
  readonly format: Format;
  readonly out: string;
  readonly recording?: string;
}

/** `busdip report`: writes a record anew in another form, after checking that it holds. */
export function describeCommand(command: Command): void {
  command
    .argument(
      "<record...>",
      "result.json (its recording.csv beside it), report.html or report.pdf; several become one document, as html or pdf",
    )
    .addOption(new Option("--format <form>", "what to write").choices(FORMATS).makeOptionMandatory())
    .option("--out <folder>", "folder to write into", ".")
    .option("--recording <file>", "the recording, where the record does not carry it");
  describeRecordOptions(command);
  command.action(runReport);
}

async function runReport(paths: readonly string[], options: ReportOptions): Promise<void> {
  if (paths.length > 1 && options.recording !== undefined) {
    throw new InputError({
      problem: "--recording goes with one record only",
      remedy: "give records that carry their readings, or result.json with its recording.csv beside it",
    });
  }
  await checkOutputFolder(options.out);
  const writing = await recordWriting({
    ...(options.paper === undefined ? {} : { paper: options.paper }),
    ...(options.sign === undefined ? {} : { sign: options.sign }),
  });
  const progress = progressLine();
  progress.say("computing the record again");
  const all: Redrawing[] = [];
  for (const path of paths) {
    all.push(...(await heldRecords(path, options.recording ?? (await readingsBeside(path)))));
  }
  progress.say("writing it anew");
  const files =
    all.length > 1
      ? await severalFiles(all, options.format, writing.paper)
      : await filesOf(all[0]!, options.format, writing.paper);
  if (all.length > 1) refuseOverwriting(options.out, files.keys(), paths);
  if (writing.signingKey !== undefined) await addSignatures(files, writing.signingKey);
  await writeIntoFolder(options.out, files);
  progress.done();
  print([...files.keys()].map((name) => join(options.out, name)).join("\n"));
}

/** `recording.csv` beside a result, which carries no readings of its own. */
export async function readingsBeside(path: string): Promise<string | undefined> {
  if (!path.toLowerCase().endsWith(".json")) return undefined;
  const beside = join(dirname(path), "recording.csv");
  return (await stat(beside).catch(() => null))?.isFile() === true ? beside : undefined;
}

/** The record or records in a file, computed again. @throws InputError where one does not hold, since then nobody knows what to write. */
async function heldRecords(path: string, recordingPath: string | undefined): Promise<readonly Redrawing[]> {
  const { checkRecord } = await import("./verify-record.js");
  const check = await checkRecord(path, await readBytes(path, "the record"), {
    softwareVersion: softwareVersion(),
    judgementSha256: judgementSha256(),
    plotlySource: readPlotlySource,
    fonts: readReportFonts,
    ...(recordingPath === undefined ? {} : { recordingPath }),
  });
  const fault = check.lines.find(({ state }) => state === "changed" || state === "differs");
  if (fault !== undefined) {
    throw new InputError({
      file: path,
      problem: `the record does not hold (${fault.what}: ${fault.detail})`,
      remedy: "see busdip verify, and analyse the recording again",
    });
  }
  if (check.again === null && check.files.has("history.json")) {
    throw new InputError({
      file: path,
      problem: "this is the record of a trend, which is not written anew",
      remedy: "run busdip trend with --out",
    });
  }
  if (check.again === null) {
    throw new InputError({
      file: path,
      problem: "the record cannot be computed again, because its inputs are not all at hand",
      remedy: "give the recording with --recording, or analyse it again with --out",
    });
  }
  return check.again;
}

async function severalFiles(
  all: readonly Redrawing[],
  format: Format,
  paper: "A4" | "Letter" | undefined,
): Promise<Map<string, string | Uint8Array>> {
  if (format === "html") {
    const { renderSeveralHtml } = await import("../report/several-html.js");
    return new Map([["report.html", renderSeveralHtml(all, { plotlySource: await readPlotlySource() })]]);
  }
  if (format === "pdf") {
    const { renderSeveralPdf } = await import("../report/several-pdf.js");
    const fonts = await readReportFonts();
    return new Map([["report.pdf", await renderSeveralPdf(all, { fonts, ...(paper === undefined ? {} : { paper }) })]]);
  }
  throw new InputError({
    problem: `several records cannot be written as ${format}`,
    remedy: "take --format html or pdf, or write them one by one",
  });
}

async function filesOf(
  again: Redrawing,
  format: Format,
  paper: "A4" | "Letter" | undefined,
): Promise<Map<string, string | Uint8Array>> {
  switch (format) {
    case "html":
      return new Map([["report.html", await htmlFile(again, again.record)]]);
    case "pdf":
      return new Map([["report.pdf", await pdfFile(again, again.record, paper)]]);
    case "txt":
      return new Map([["report.txt", await plainText(again)]]);
    case "svg":
    case "png":
      return await figureFiles(again, format);
  }
}

async function figureFiles(again: Redrawing, format: "svg" | "png"): Promise<Map<string, string | Uint8Array>> {
  const { reportFigures, svgFigure } = await import("../report/index.js");
  const figures = reportFigures(again.analysis);
  if (format === "svg") {
    return new Map(figures.map((figure) => [`${figure.id}.svg`, svgFigure(figure, { standalone: true })]));
  }
  const { pngFigure } = await import("../report/png.js");
  const rasterizer = await readFile(createRequire(import.meta.url).resolve("@resvg/resvg-wasm/index_bg.wasm"));
  const fonts = await readReportFonts();
  const files = new Map<string, string | Uint8Array>();
  for (const figure of figures) files.set(`${figure.id}.png`, await pngFigure(figure, { rasterizer, fonts }));
  return files;
}

async function plainText({ analysis, context, record }: Redrawing): Promise<string> {
  const { renderTerminalSummary } = await import("../report/index.js");
  const { maintenanceEntry } = await import("../report/maintenance-entry.js");
  const { explanation } = await import("./explanation.js");
  const style = { columns: 80, colour: false, ascii: false };
  const draft = maintenanceEntry(analysis, context, record.inputs.entryTemplate ?? undefined);
  return `${renderTerminalSummary(analysis, context, style)}${explanation(analysis, context)}\n${draft.ok ? draft.text : ""}`;
}
