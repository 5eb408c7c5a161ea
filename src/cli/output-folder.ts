import { rmSync } from "node:fs";
import { mkdir, rename, rm, stat, writeFile } from "node:fs/promises";
import { dirname, join, resolve } from "node:path";
import { InputError } from "../importers/input-error.js";

/**
 * Refuses an output folder that cannot be one, before any work is done.
 *
 * @throws InputError where the path is a file.
 */
export async function checkOutputFolder(folder: string): Promise<void> {
  if (folder.trim() === "") {
    throw new InputError({ problem: "the name of the output folder is empty", remedy: "give a folder after --out" });
  }
  const found = await stat(folder).catch((error: NodeJS.ErrnoException) => {
    if (error.code === "ENOENT") return null;
    throw folderFault(folder, error);
  });
  if (found !== null && !found.isDirectory()) throw notAFolder(folder);
}

/**
 * Writes files into a folder, which is made if need be; each file is whole or, if writing fails, as it was before.
 *
 * @throws InputError where the folder cannot be written to.
 */
export async function writeIntoFolder(folder: string, files: ReadonlyMap<string, string | Uint8Array>): Promise<void> {
  const unfinished: string[] = [];
  const madeFolders: string[] = [];
  const stopListening = onInterruption(() => {
    for (const path of unfinished) rmSync(path, { force: true });
    if (madeFolders[0] !== undefined) rmSync(madeFolders[0], { recursive: true, force: true });
  });
  try {
    await makeFolder(folder, madeFolders);
    const moves: [string, string][] = [];
    for (const [name, content] of files) {
      const unfinishedPath = join(folder, `.${name}.${process.pid}.unfinished`);
      unfinished.push(unfinishedPath);
      await writeFile(unfinishedPath, content);
      moves.push([unfinishedPath, join(folder, name)]);
    }
    for (const [from, to] of moves) await rename(from, to);
  } catch (error) {
    for (const path of unfinished) await rm(path, { force: true });
    if (madeFolders[0] !== undefined) await rm(madeFolders[0], { recursive: true, force: true });
    throw folderFault(folder, error as NodeJS.ErrnoException);
  } finally {
    stopListening();
  }
}

/** Makes a folder and those above it that are missing, noting each; by steps, since one call for all may never end in /proc. */
async function makeFolder(folder: string, made: string[]): Promise<void> {
  const missing: string[] = [];
  for (let at = resolve(folder); (await stat(at).catch(() => null)) === null; at = dirname(at)) {
    if (dirname(at) === at) break;
    missing.unshift(at);
  }
  for (const path of missing) {
    await mkdir(path).then(
      () => made.push(path),
      // Another process was quicker.
      (error: NodeJS.ErrnoException) => (error.code === "EEXIST" ? null : Promise.reject(error)),
    );
  }
  await mkdir(folder, { recursive: true });
}

/** Tidies up before the process ends by a signal, and ends it as that signal does; the answer takes it back. */
function onInterruption(tidy: () => void): () => void {
  const end = (signal: NodeJS.Signals) => {
    tidy();
    stop();
    process.kill(process.pid, signal);
  };
  const signals = ["SIGINT", "SIGTERM", "SIGHUP"] as const;
  const stop = () => {
    for (const signal of signals) process.off(signal, end);
  };
  for (const signal of signals) process.on(signal, end);
  return stop;
}

/**
 * Refuses to write over a file that is being read.
 *
 * @throws InputError naming the input that one of the files would replace.
 */
export function refuseOverwriting(folder: string, names: Iterable<string>, inputPaths: readonly string[]): void {
  const inputs = new Map(inputPaths.map((path) => [resolve(path), path]));
  for (const name of names) {
    const input = inputs.get(resolve(folder, name));
    if (input === undefined) continue;
    throw new InputError({
      file: input,
      problem: "the report would be written over this input",
      remedy: "give another folder after --out",
    });
  }
}

function folderFault(folder: string, error: NodeJS.ErrnoException): Error {
  switch (error.code) {
    case "EEXIST":
    case "ENOTDIR":
      return notAFolder(folder);
    case "EACCES":
    case "EPERM":
    case "EROFS":
      return new InputError({
        file: folder,
        problem: "nothing may be written into this folder",
        remedy: "give another folder after --out",
      });
    case "ENOSPC":
    case "EDQUOT":
      return new InputError({
        file: resolve(folder),
        problem: "the disk is full",
        remedy: "make room or give another folder after --out",
      });
    case "EISDIR":
      return new InputError({
        file: folder,
        problem: "a folder stands where one of the report's files should go",
        remedy: "give another folder after --out",
      });
    default:
      if (typeof error.code !== "string") return error;
      return new InputError({
        file: folder,
        problem: `this folder cannot be written to (${error.code})`,
        remedy: "give another folder after --out",
      });
  }
}

function notAFolder(folder: string): InputError {
  return new InputError({
    file: folder,
    problem: "the output folder's name is already that of a file",
    remedy: "give another folder after --out",
  });
}
