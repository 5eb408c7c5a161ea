import type { Command } from "commander";
import type { WholeBus } from "../core/index.js";
import { InputError } from "../importers/input-error.js";
import type { JudgedRecording } from "./analysis-job.js";
import { readTextFile } from "./input-file.js";

/** What a person may say about the rest of the bus. */
export interface WholeBusOptions {
  readonly check?: string;
}

/** The account of the whole bus, and the ticked sheet as the person wrote it. */
export interface WholeBusAccount {
  readonly bus: WholeBus;
  readonly sheetText: string;
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
  return { bus: wholeBus(profile, judged.analysis, ticks), sheetText: text };
}

/** The judged recording with the account of the whole bus and the sheet that it rests on. */
export function withWholeBus(judged: JudgedRecording, account: WholeBusAccount | null): JudgedRecording {
  if (account === null) return judged;
  return {
    ...judged,
    context: { ...judged.context, wholeBus: account.bus },
    given: { ...judged.given, sheetText: account.sheetText },
  };
}

/** The account as text for the terminal. */
export async function wholeBusText(account: WholeBusAccount): Promise<string> {
  const { renderWholeBusTerminal } = await import("../report/plan/whole-bus-terminal.js");
  const { terminalStyle } = await import("./terminal-style.js");
  return renderWholeBusTerminal(account.bus, terminalStyle(undefined));
}
