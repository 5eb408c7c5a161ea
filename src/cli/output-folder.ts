import { mkdir, rename, rm, stat, writeFile } from "node:fs/promises";
import { join, resolve } from "node:path";
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
  let madeFolder: string | undefined;
  try {
    madeFolder = await mkdir(folder, { recursive: true });
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
    if (madeFolder !== undefined) await rm(madeFolder, { recursive: true, force: true });
    throw folderFault(folder, error as NodeJS.ErrnoException);
  }
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
      return error;
  }
}

function notAFolder(folder: string): InputError {
  return new InputError({
    file: folder,
    problem: "the output folder's name is already that of a file",
    remedy: "give another folder after --out",
  });
}
