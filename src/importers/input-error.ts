const CONTROLS = /[\p{Cc}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069]/gu;
/** Longest half of a sentence; what a file holds may be quoted in it. */
const LONGEST_HALF = 400;

/**
 * Half a sentence that quotes a file, fit for a terminal: control characters and direction overrides, which could move
 * the cursor or turn the line round, are written as `\u001b`, and what is too long is cut.
 */
function fitToPrint(half: string): string {
  const shown = half.replace(CONTROLS, (sign) => `\\u${sign.codePointAt(0)!.toString(16).padStart(4, "0")}`);
  return shown.length > LONGEST_HALF ? `${shown.slice(0, LONGEST_HALF - 1).trimEnd()}\u2026` : shown;
}

/**
 * The person's input is wrong: one sentence that says what, where, and how to mend it.
 *
 * Thrown by importers and the command line only; leads to exit status 2.
 */
export class InputError extends Error {
  readonly file: string | undefined;
  readonly line: number | undefined;
  readonly column: number | undefined;
  readonly problem: string;
  readonly remedy: string;

  constructor(fault: { file?: string; line?: number; column?: number; problem: string; remedy: string }) {
    const place = [
      fault.file,
      fault.line === undefined ? undefined : `line ${fault.line}`,
      fault.column === undefined ? undefined : `column ${fault.column}`,
    ]
      .filter((part) => part !== undefined)
      .join(", ");
    super(`${place === "" ? "" : `${fitToPrint(place)}: `}${fitToPrint(fault.problem)}; ${fitToPrint(fault.remedy)}`);
    this.name = "InputError";
    this.file = fault.file;
    this.line = fault.line;
    this.column = fault.column;
    this.problem = fault.problem;
    this.remedy = fault.remedy;
  }
}
