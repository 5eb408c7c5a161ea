import { readFile, stat } from "node:fs/promises";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import { type Command, Option } from "commander";
import { InputError } from "../importers/input-error.js";
import { readBytes } from "./input-file.js";
import { checkOutputFolder, writeIntoFolder } from "./output-folder.js";
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
    .argument("<record>", "result.json (its recording.csv beside it), report.html or report.pdf")
    .addOption(new Option("--format <form>", "what to write").choices(FORMATS).makeOptionMandatory())
    .option("--out <folder>", "folder to write into", ".")
    .option("--recording <file>", "the recording, where the record does not carry it");
  describeRecordOptions(command);
  // A form of the entry belongs to the making of a record, not to its writing anew.
  (command.options as Option[]).splice(
    command.options.findIndex((option) => option.long === "--entry-template"),
    1,
  );
  command.action(async (path: string, options: ReportOptions) => {
    await runReport(path, options);
  });
}

async function runReport(path: string, options: ReportOptions): Promise<void> {
  await checkOutputFolder(options.out);
  const writing = await recordWriting({
    ...(options.paper === undefined ? {} : { paper: options.paper }),
    ...(options.sign === undefined ? {} : { sign: options.sign }),
  });
  const progress = progressLine();
  progress.say("computing the record again");
  const again = await heldRecord(path, options.recording ?? (await readingsBeside(path)));
  progress.say("writing it anew");
  const files = await filesOf(again, options.format, writing.paper);
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

/** The record computed again. @throws InputError where it does not hold, since then nobody knows what to write. */
async function heldRecord(path: string, recordingPath: string | undefined): Promise<Redrawing> {
  const { checkRecord } = await import("./verify-record.js");
  const check = await checkRecord(path, await readBytes(path, "the record"), {
    softwareVersion: softwareVersion(),
    judgementSha256: judgementSha256(),
    plotlySource: readPlotlySource,
    fonts: readReportFonts,
    ...(recordingPath === undefined ? {} : { recordingPath }),
  });
  const fault = check.lines.find((line) => line.state === "changed");
  if (fault !== undefined) {
    throw new InputError({
      file: path,
      problem: `the record does not hold (${fault.what}: ${fault.detail})`,
      remedy: "see busdip verify, and analyse the recording again",
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
