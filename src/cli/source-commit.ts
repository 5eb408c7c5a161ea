import { execFileSync } from "node:child_process";
import { existsSync, readFileSync, statSync } from "node:fs";
import { dirname, join, resolve } from "node:path";

/**
 * The commit that a folder stands at, read from its `.git` without the program git; null where there is none.
 *
 * A worktree's `.git` is a file that names the folder; branches may stand in files of their own or in `packed-refs`.
 */
export function commitOf(folder: string): string | null {
  const git = gitFolder(join(folder, ".git"));
  const head = git === null ? null : lineOf(join(git, "HEAD"));
  if (git === null || head === null) return null;
  const branch = /^ref: (\S+)$/.exec(head)?.[1];
  if (branch === undefined) return asCommit(head);
  const shared = lineOf(join(git, "commondir"));
  const common = shared === null ? git : resolve(git, shared);
  return asCommit(lineOf(join(git, branch)) ?? lineOf(join(common, branch)) ?? packedRef(common, branch));
}

/** Whether program files differ from the commit; null where git cannot be asked. */
export function differsFromCommit(folder: string): boolean | null {
  try {
    const words = ["status", "--porcelain", "--", "src", "package.json", "package-lock.json", "vite.config.ts"];
    return execFileSync("git", words, { cwd: folder, encoding: "utf8", stdio: ["ignore", "pipe", "ignore"] }) !== "";
  } catch {
    return null;
  }
}

function gitFolder(path: string): string | null {
  if (!existsSync(path)) return null;
  if (statSync(path).isDirectory()) return path;
  const elsewhere = /^gitdir: (.+)$/.exec(lineOf(path) ?? "")?.[1];
  return elsewhere === undefined ? null : resolve(dirname(path), elsewhere);
}

function lineOf(path: string): string | null {
  return existsSync(path) ? readFileSync(path, "utf8").split("\n")[0]!.trim() : null;
}

function packedRef(common: string, branch: string): string | null {
  const path = join(common, "packed-refs");
  if (!existsSync(path)) return null;
  const line = readFileSync(path, "utf8")
    .split("\n")
    .find((one) => one.endsWith(` ${branch}`));
  return line?.split(" ")[0] ?? null;
}

function asCommit(text: string | null): string | null {
  return text !== null && /^[0-9a-f]{40,64}$/.test(text) ? text : null;
}
