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
    super(`${place === "" ? "" : `${place}: `}${fault.problem}; ${fault.remedy}`);
    this.name = "InputError";
    this.file = fault.file;
    this.line = fault.line;
    this.column = fault.column;
    this.problem = fault.problem;
    this.remedy = fault.remedy;
  }
}
