import { InputError } from "../importers/input-error.js";

const CLEAR_LINE = "\r\u001b[K";

/** Text or JSON for whoever called, on stdout; a reader that has gone away is not our fault. */
export function print(text: string): void {
  if (!process.stdout.destroyed && process.stdout.writable) process.stdout.write(`${text.replace(/\n+$/, "")}\n`);
}

/** One sentence of complaint on stderr. */
export function complain(sentence: string): void {
  const clear = process.stderr.isTTY === true ? CLEAR_LINE : "";
  process.stderr.write(`${clear}busdip: ${sentence.replace(/\s*\n\s*/g, " ").trim()}\n`);
}

/**
 * Ignores that stdout or stderr was closed early, as `| head` does.
 *
 * @throws InputError, as an uncaught one, where stdout goes to a file that cannot be written.
 */
export function tolerateClosedPipes(): void {
  process.stderr.on("error", () => {});
  process.stdout.on("error", (error: NodeJS.ErrnoException) => {
    if (error.code === "EPIPE") return;
    throw new InputError({
      file: "standard output",
      problem: error.code === "ENOSPC" ? "the disk is full" : `it cannot be written (${error.code})`,
      remedy: "send it elsewhere",
    });
  });
}

/** What is being done at the moment, on stderr and only on a terminal; `done()` takes the line away again. */
export interface Progress {
  say(what: string): void;
  done(): void;
}

/** A progress line; silent unless stderr is a terminal. */
export function progressLine(): Progress {
  if (process.stderr.isTTY !== true) return { say() {}, done() {} };
  return {
    say: (what) => process.stderr.write(`${CLEAR_LINE}${what} ...`),
    done: () => process.stderr.write(CLEAR_LINE),
  };
}
