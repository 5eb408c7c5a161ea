import { type Command, Option } from "commander";
import type { Paper } from "../report/pdf-flow.js";
import { readTextFile } from "./input-file.js";
import type { RecordWriting } from "./report-files.js";

/** What a person may say about the record to be written. */
export interface RecordWritingOptions {
  readonly paper?: Paper;
  readonly sign?: string;
  readonly entryTemplate?: string;
}

/** Options of every command that writes records. */
export function describeRecordOptions(command: Command, pdfName = "report.pdf"): void {
  command
    .addOption(new Option("--paper <size>", `paper of ${pdfName}, A4 unless told`).choices(["A4", "Letter"]))
    .option("--sign <file>", "sign each written report with the shop's own key (Ed25519, PEM); signs for no person");
}

/** The option of commands that draft an entry. */
export function describeEntryTemplate(command: Command): void {
  command.option("--entry-template <file>", "the shop's own form of the draft entry; {{field}} is filled in");
}

/**
 * Reads the files that these options name.
 *
 * @throws InputError where one cannot be read.
 */
export async function recordWriting(options: RecordWritingOptions): Promise<RecordWriting> {
  const { readSigningKey } = await import("./verify-signature.js");
  return {
    ...(options.paper === undefined ? {} : { paper: options.paper }),
    ...(options.sign === undefined ? {} : { signingKey: await readSigningKey(options.sign) }),
    ...(options.entryTemplate === undefined
      ? {}
      : {
          entryTemplate: await readTextFile(options.entryTemplate, "the form of the entry"),
          entryTemplatePath: options.entryTemplate,
        }),
  };
}
