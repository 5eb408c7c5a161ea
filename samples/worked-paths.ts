import { spawnSync } from "node:child_process";
import { cpSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
/** Noon of the invented check, so that the same program writes the same records. */
const NOON = String(Date.UTC(2026, 2, 2, 12) / 1000);
const BLOCK = /(?<=^```console\n)[\s\S]*?(?=^```$)/gm;

/**
 * The text with each `console` block run anew: every line that begins with `$` is a command, and what the built program
 * prints stands below it. All blocks share one new folder, in which `samples` lies.
 */
export function ranAnew(text: string): string {
  const folder = mkdtempSync(join(tmpdir(), "busdip-paths-"));
  try {
    cpSync(join(root, "samples"), join(folder, "samples"), { recursive: true });
    return text.replace(BLOCK, (block) =>
      block
        .split("\n")
        .filter((line) => line.startsWith("$ "))
        .map((line) => `${line}\n${printed(line.slice(2), folder)}`)
        .join(""),
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function printed(command: string, folder: string): string {
  const script = `npx() { shift; "$NODE" "$MAIN" "$@"; }\n${command} 2>&1`;
  const env = {
    PATH: process.env.PATH,
    NODE: process.execPath,
    MAIN: join(root, "dist/cli/main.js"),
    SOURCE_DATE_EPOCH: NOON,
    LANG: "C.UTF-8",
    COLUMNS: "80",
    NO_COLOR: "1",
  };
  return spawnSync("sh", ["-c", script], { cwd: folder, env, encoding: "utf8" }).stdout;
}
