import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

/** The version in this package's own package.json. */
export function softwareVersion(): string {
  const packageJson = createRequire(import.meta.url)("../../package.json") as { version: string };
  return packageJson.version;
}

/** Written by the build: the commit, whether files differed from it, and the judgement it was built with. */
export const STAMP_FILE = fileURLToPath(new URL("../commit.json", import.meta.url));

/**
 * Version, commit and judging program in one line, such as `0.1.0, commit 589cf29a1b2c, judgement 5e884898`.
 *
 * The commit is that of the build; it is not told where the program was built outside a clone or compiled anew since.
 */
export function versionLine(): string {
  const judgement = judgementSha256();
  return `${softwareVersion()}, ${commitWords(judgement)}, judgement ${judgement.slice(0, 8)}`;
}

function commitWords(judgement: string): string {
  let stamp: { readonly commit?: unknown; readonly changed?: unknown; readonly judgement?: unknown };
  try {
    stamp = JSON.parse(readFileSync(STAMP_FILE, "utf8"));
  } catch {
    return "commit not known";
  }
  if (typeof stamp.commit !== "string" || stamp.judgement !== judgement) return "commit not known";
  return `commit ${stamp.commit.slice(0, 12)}${stamp.changed === true ? " with changes" : ""}`;
}

/** What stands between a file that is given and the words of its report. */
const JUDGING_FOLDERS = ["core", "importers", "report"];

/**
 * SHA-256 over the program files that read, judge and draw, in the order of their names: what made a record, more
 * exactly than a version that somebody may have changed.
 */
export function judgementSha256(): string {
  const folder = fileURLToPath(new URL("../", import.meta.url));
  const names = JUDGING_FOLDERS.flatMap((name) =>
    readdirSync(join(folder, name), { recursive: true, encoding: "utf8" }).map((file) => `${name}/${file}`),
  )
    .map((name) => name.replaceAll("\\", "/"))
    .filter((name) => /(?<!\.d)\.[jt]s$/.test(name))
    .sort();
  const hash = createHash("sha256");
  for (const name of names)
    hash
      .update(`${name}\0`)
      .update(readFileSync(join(folder, name)))
      .update("\0");
  return hash.digest("hex");
}
