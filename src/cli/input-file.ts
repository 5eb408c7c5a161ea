import { readFile, stat } from "node:fs/promises";
import { InputError } from "../importers/input-error.js";

const LARGEST_TEXT_BYTES = 10_000_000;
const LARGEST_FILE_BYTES = 500_000_000;

/**
 * The text of a small input file such as a profile or a list of marks; `what` names it in the sentence.
 *
 * @throws InputError where the file cannot be read as UTF-8 text of at most 10 MB, or `largestBytes`.
 */
export async function readTextFile(path: string, what: string, largestBytes = LARGEST_TEXT_BYTES): Promise<string> {
  const bytes = await readBytes(path, what, largestBytes);
  try {
    return new TextDecoder("utf-8", { fatal: true }).decode(bytes);
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== "ERR_ENCODING_INVALID_ENCODED_DATA") throw error;
    throw new InputError({ file: path, problem: "this is not UTF-8 text", remedy: `save ${what} as UTF-8 text` });
  }
}

/**
 * The bytes of an input file; `what` names it in the sentence.
 *
 * @throws InputError where the file cannot be read or is larger than `largestBytes`.
 */
export async function readBytes(path: string, what: string, largestBytes = LARGEST_FILE_BYTES): Promise<Uint8Array> {
  const refuse = (problem: string, remedy: string) => new InputError({ file: path, problem, remedy });
  try {
    const { size } = await stat(path);
    if (size > largestBytes) {
      throw refuse(`this file of ${(size / 1e6).toFixed(0)} MB is too large for ${what}`, `give the file with ${what}`);
    }
    return await readFile(path);
  } catch (error) {
    if (error instanceof InputError) throw error;
    switch ((error as NodeJS.ErrnoException).code) {
      case "ENOENT":
      case "ENOTDIR":
        throw refuse("there is no such file", `check the path of ${what}`);
      case "EISDIR":
        throw refuse("this is a folder, not a file", `give the file with ${what}`);
      case "EACCES":
      case "EPERM":
        throw refuse("this file may not be read", "change its permissions or copy it");
      default:
        if (typeof (error as NodeJS.ErrnoException).code !== "string") throw error;
        throw refuse(`this file cannot be read (${(error as NodeJS.ErrnoException).code})`, "copy it to another disk");
    }
  }
}
