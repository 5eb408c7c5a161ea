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

/**
 * SHA-256 over the program files of the judgement, in the order of their names: what computed a result, more exactly
 * than a version that somebody may have changed.
 */
export function judgementSha256(): string {
  const folder = fileURLToPath(new URL("../core/", import.meta.url));
  const names = readdirSync(folder, { recursive: true, encoding: "utf8" })
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
