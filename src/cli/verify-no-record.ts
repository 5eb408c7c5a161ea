import { readdir } from "node:fs/promises";
import { basename, dirname, join } from "node:path";
import { InputError } from "../importers/input-error.js";
import { plainLabel } from "../report/label-text.js";

/** Files that `verify` takes, by the names that the program gives them. */
const RECORD_NAMES = ["report.html", "report.pdf", "result.json", "trend.html", "trend.pdf"] as const;
const LOOKED_AT_BYTES = 4000;

/** Schemas of ours that are no records. */
const OTHER_SCHEMAS: Readonly<Record<string, string>> = {
  "busdip-history/1": "an exported history",
  "busdip-trend/1": "a trend without its seal",
};

/** Whether a text in JSON says that it is something else of ours. */
export function isOtherJson(text: string): boolean {
  return otherSchema(text) !== undefined;
}

function otherSchema(text: string): string | undefined {
  const name = /^\s*\{\s*"schema"\s*:\s*"([^"]{1,40})"/.exec(text.slice(0, LOOKED_AT_BYTES))?.[1];
  return name === undefined ? undefined : OTHER_SCHEMAS[name];
}

/** The refusal of a file that is no record: what it seems to be, what is taken, and which such files lie beside it. */
export async function noRecord(path: string, bytes: Uint8Array): Promise<InputError> {
  const text = new TextDecoder().decode(bytes.subarray(0, LOOKED_AT_BYTES));
  const beside = await recordsIn(dirname(path));
  const there = beside.length === 0 ? "" : `; beside it ${standThere(beside)}`;
  return new InputError({
    file: path,
    problem: `this is ${lookOf(path, text)}, not a record of busdip, or its beginning was damaged`,
    remedy: `give ${listOf(RECORD_NAMES, "or")}${there}`,
  });
}

/** The refusal of a folder: which records lie in it. */
export async function folderInsteadOfRecord(path: string): Promise<InputError> {
  const held = await recordsIn(path);
  return new InputError({
    file: path,
    problem: "this is a folder, not a file",
    remedy:
      held.length === 0
        ? `give the file with the record: ${listOf(RECORD_NAMES, "or")}`
        : `give one of its records: ${listOf(
            held.map((name) => plainLabel(join(path, name), 200)),
            "or",
          )}`,
  });
}

async function recordsIn(folder: string): Promise<string[]> {
  const names = await readdir(folder).catch((): string[] => []);
  return RECORD_NAMES.filter((name) => names.includes(name));
}

/** What a file seems to hold, for a person who took it for the record. */
function lookOf(path: string, text: string): string {
  const other = otherSchema(text);
  if (other !== undefined) return other;
  const lines = text.split(/\r?\n/).filter((line) => line.trim() !== "" && !line.startsWith("#"));
  const first = (lines[0] ?? "").replace(/^\ufeff/, "");
  if (/^time_s[,;\t]load[,;\t]action/i.test(first)) return "a list of switching marks";
  if (/^time_s[,;\t]voltage_V/i.test(first)) return "a list of readings";
  if (/\.(ya?ml)$/i.test(basename(path))) return "a profile, dial or run sheet";
  if (/\.(mp4|mov|webm)$/i.test(basename(path))) return "a film";
  if (/\.(csv|txt|log|tsv|gz)$/i.test(basename(path))) return "a log or a table";
  return "another file";
}

function standThere(names: readonly string[]): string {
  return `${names.length === 1 ? "lies" : "lie"} ${listOf(names, "and")}`;
}

function listOf(names: readonly string[], last: "and" | "or"): string {
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} ${last} ${names.at(-1)}`;
}
