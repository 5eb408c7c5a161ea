import { stat } from "node:fs/promises";
import type { Command } from "commander";
import { plainLabel } from "../report/label-text.js";
import { EXIT_STATUS } from "./exit-status.js";
import { readBytes, readTextFile } from "./input-file.js";
import { checkOutputFolder, writeIntoFolder } from "./output-folder.js";
import { judgementSha256, softwareVersion } from "./software-version.js";
import { print, progressLine } from "./terminal.js";
import type { CheckLine } from "./verify-line.js";
import type { RecordCheck } from "./verify-record.js";

interface VerifyOptions {
  readonly recording?: string;
  readonly profile?: string;
  readonly marks?: string;
  readonly signature?: string;
  readonly key?: string;
  readonly numbers?: true;
  readonly extract?: string;
  readonly json?: true;
}

/** `busdip verify`: computes a record again from what it carries and says what holds. */
export function describeCommand(command: Command): void {
  command
    .argument("<file>", "report.html, report.pdf, result.json, trend.html or trend.pdf")
    .option(
      "--recording <file>",
      "the recording, where the record does not carry it (recording.csv, or the log itself)",
    )
    .option("--profile <file>", "the profile, where the result does not state it")
    .option("--marks <file>", "the switching marks, where the result does not state them")
    .option("--signature <file>", "the signature file, unless it lies beside the record with .sig added to its name")
    .option("--key <file>", "the shop's public key (Ed25519, PEM)")
    .option("--numbers", "list every number as claimed and as computed again")
    .option("--extract <folder>", "write the carried files into this folder")
    .option("--json", "print what was found as JSON and nothing else")
    .action(async (path: string, options: VerifyOptions) => {
      await runVerify(path, options);
    });
}

async function runVerify(path: string, options: VerifyOptions): Promise<void> {
  if (options.extract !== undefined) await checkOutputFolder(options.extract);
  if ((await stat(path).catch(() => null))?.isDirectory()) {
    const { folderInsteadOfRecord } = await import("./verify-no-record.js");
    throw await folderInsteadOfRecord(path);
  }
  const bytes = await readBytes(path, "the record");
  const progress = progressLine();
  progress.say("computing the record again");
  const { readingsBeside } = await import("./report.js");
  const { checkRecord } = await import("./verify-record.js");
  const { readPlotlySource } = await import("./report-files.js");
  const { readReportFonts } = await import("./report-fonts.js");
  const recordingPath = options.recording ?? (await readingsBeside(path));
  const check = await checkRecord(path, bytes, {
    softwareVersion: softwareVersion(),
    judgementSha256: judgementSha256(),
    plotlySource: readPlotlySource,
    fonts: readReportFonts,
    ...(recordingPath === undefined ? {} : { recordingPath }),
    ...(options.profile === undefined ? {} : { profileText: await readTextFile(options.profile, "the profile") }),
    ...(options.marks === undefined ? {} : { marksText: await readTextFile(options.marks, "the switching marks") }),
  });
  const lines = [...check.lines, await signatureLine(path, bytes, options)];
  progress.done();

  if (options.extract !== undefined) await writeIntoFolder(options.extract, check.files);
  process.exitCode = conclusionOf(lines) === "intact" ? EXIT_STATUS.done : EXIT_STATUS.finding;
  if (options.json === true) print(JSON.stringify({ ...asJson(check, lines), here: softwareVersion() }, null, 2));
  else print(asText(path, check, lines, options.numbers === true));
}

async function signatureLine(path: string, bytes: Uint8Array, options: VerifyOptions): Promise<CheckLine> {
  const { checkSignature, readPublicKey } = await import("./verify-signature.js");
  const trusted = options.key === undefined ? null : await readPublicKey(options.key);
  const beside = `${path}.sig`;
  const found = options.signature ?? ((await stat(beside).catch(() => null)) === null ? null : beside);
  if (found === null) {
    if (trusted === null) return { what: "signature", state: "not checked", detail: "there is none beside the record" };
    return {
      what: "signature",
      state: "changed",
      detail: `a key was given, but there is no ${plainLabel(beside, 200)}`,
    };
  }
  return { what: "signature", ...checkSignature(await readTextFile(found, "the signature"), bytes, trusted) };
}

type Conclusion = "intact" | "changed" | "differs" | "open";

/** Intact only where the numbers were computed again and nothing was found changed. */
export function conclusionOf(lines: readonly CheckLine[]): Conclusion {
  if (lines.some((line) => line.state === "changed")) return "changed";
  if (lines.some((line) => line.state === "differs")) return "differs";
  // Of several records in one file each has a line of its own, behind its number.
  const numbers = new Set(lines.flatMap((line) => /^(\d+: )/.exec(line.what)?.[1] ?? []));
  const results = new Set(lines.filter((line) => line.state === "holds").map((line) => line.what));
  const due = numbers.size === 0 ? ["result"] : [...numbers].map((number) => `${number}result`);
  return due.every((what) => results.has(what)) ? "intact" : "open";
}

const CONCLUSIONS: Record<Conclusion, string> = {
  intact: "Intact: every number was computed again from the readings and holds.",
  changed: "Changed: what stands above as 'changed' does not agree with the rest of the record. Do not rely on it.",
  differs:
    "Not decided: what stands above as 'differs' this program computes otherwise, and it did not make the record. Do not rely on it until the program that made it has checked it; busdip --version names version, commit and judgement.",
  open: "Not decided: the numbers could not be computed again.",
};

function asText(path: string, check: RecordCheck, lines: readonly CheckLine[], withNumbers: boolean): string {
  const made =
    check.madeBy === null
      ? "maker not told"
      : `made by busdip ${plainLabel(check.madeBy.version)}, ${plainLabel(check.madeBy.madeAt)}; checked by ${softwareVersion()}`;
  const rows = lines.map((line) => `  ${line.state.padEnd(12)} ${line.what.padEnd(17)} ${oneLine(line.detail)}`);
  const numbers = withNumbers ? ["", ...check.claims.map(numberRow)] : [];
  return [`${plainLabel(path, 200)}: ${made}`, ...rows, ...numbers, "", CONCLUSIONS[conclusionOf(lines)]].join("\n");
}

function numberRow(claim: RecordCheck["claims"][number]): string {
  const computed = claim.holds ? "" : `, computed again ${JSON.stringify(claim.computed) ?? "missing"}`;
  return `  ${(claim.holds ? "holds" : "changed").padEnd(12)} ${claim.place} = ${JSON.stringify(claim.claimed) ?? "missing"}${computed}`;
}

function oneLine(text: string): string {
  return plainLabel(text, 400);
}

function asJson(check: RecordCheck, lines: readonly CheckLine[]): object {
  return { conclusion: conclusionOf(lines), madeBy: check.madeBy, checks: lines, numbers: check.claims };
}
