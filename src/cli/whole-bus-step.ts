import type { Command } from "commander";
import type { WholeBus } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { Paper } from "../report/pdf-flow.js";
import type { JudgedRecording } from "./analysis-job.js";
import { readTextFile } from "./input-file.js";

/** What a person may say about the rest of the bus. */
export interface WholeBusOptions {
  readonly check?: string;
}

/** The account of the whole bus, with where it came from. */
export interface WholeBusAccount {
  readonly bus: WholeBus;
  readonly sheetName: string;
}

/** Adds the option that joins a ticked run sheet to the judgement. */
export function describeWholeBusStep(command: Command): void {
  command.option(
    "--check <file>",
    "ticked run sheet (YAML, as busdip plan --check writes it): accounts for the whole bus",
  );
}

/**
 * Joins the ticked run sheet to what the recording told; null where none was given.
 *
 * @throws InputError where the sheet is at fault, or there is no profile to know the items by.
 */
export async function wholeBusOf(judged: JudgedRecording, options: WholeBusOptions): Promise<WholeBusAccount | null> {
  if (options.check === undefined) return null;
  const { profile } = judged.context;
  if (profile === null) {
    throw new InputError({
      problem: "--check stands without --profile",
      remedy: "give the profile whose items the run sheet ticks",
    });
  }
  const text = await readTextFile(options.check, "the ticked run sheet");
  const { readTickedSheet } = await import("../importers/run-sheet/ticked-sheet.js");
  const { wholeBus } = await import("../core/index.js");
  const { ticks } = readTickedSheet(text, options.check, profile);
  return { bus: wholeBus(profile, judged.analysis, ticks), sheetName: options.check.split(/[\\/]/).at(-1)! };
}

/** The account as files beside the report: a page and a PDF. */
export async function wholeBusFiles(
  account: WholeBusAccount | null,
  judged: JudgedRecording,
  paper?: Paper,
): Promise<ReadonlyMap<string, string | Uint8Array>> {
  if (account === null) return new Map();
  const { documentTitle } = await import("../report/html.js");
  const { renderWholeBusHtml } = await import("../report/plan/whole-bus-report.js");
  const { renderWholeBusPdf } = await import("../report/plan/whole-bus-pdf.js");
  const { readReportFonts } = await import("./report-fonts.js");
  const context = {
    title: documentTitle(judged.context),
    sources: [judged.context.source, account.sheetName],
    softwareVersion: judged.context.softwareVersion,
    madeAt: judged.context.madeAt,
  };
  const onPaper = { ...context, fonts: await readReportFonts(), ...(paper === undefined ? {} : { paper }) };
  return new Map<string, string | Uint8Array>([
    ["whole-bus.html", renderWholeBusHtml(account.bus, context)],
    ["whole-bus.pdf", await renderWholeBusPdf(account.bus, onPaper)],
  ]);
}

/** The account as text for the terminal. */
export async function wholeBusText(account: WholeBusAccount): Promise<string> {
  const { renderWholeBusTerminal } = await import("../report/plan/whole-bus-report.js");
  const { terminalStyle } = await import("./summary.js");
  return renderWholeBusTerminal(account.bus, terminalStyle(undefined));
}
