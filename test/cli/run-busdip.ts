import { spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const main = fileURLToPath(new URL("../../dist/cli/main.js", import.meta.url));

export const samplesFolder = fileURLToPath(new URL("../../samples/", import.meta.url));

export interface Outcome {
  readonly status: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** Runs the built command line as a process; `npm test` builds it before the tests. */
export function runBusdip(
  words: readonly string[],
  options: { readonly cwd?: string; readonly input?: string; readonly env?: Record<string, string> } = {},
): Outcome {
  if (!existsSync(main)) throw new Error("dist/cli/main.js is missing: run npm run build");
  const { status, stdout, stderr } = spawnSync(process.execPath, [main, ...words], {
    encoding: "utf8",
    input: options.input ?? "",
    maxBuffer: 64 * 1024 * 1024,
    env: { ...process.env, NO_COLOR: "1", LANG: "C.UTF-8", BUSDIP_DEBUG: "", ...options.env },
    ...(options.cwd === undefined ? {} : { cwd: options.cwd }),
  });
  return { status, stdout, stderr };
}

/** An empty folder with the given files in it, and the way to take it away again. */
export function folderWith(files: Readonly<Record<string, string | Uint8Array>> = {}): {
  readonly path: string;
  remove(): void;
} {
  const path = mkdtempSync(join(tmpdir(), "busdip-test-"));
  for (const [name, content] of Object.entries(files)) writeFileSync(join(path, name), content);
  return { path, remove: () => rmSync(path, { recursive: true, force: true }) };
}
