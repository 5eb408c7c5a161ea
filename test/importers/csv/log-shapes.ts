import type { LogOptions } from "../../../src/importers/csv/log-options.js";

/** One log as some logger may write it, with what must come of it. */
export interface LogShape {
  readonly name: string;
  readonly log: string | Uint8Array;
  readonly options?: LogOptions;
  /** First and last reading as [s, V]; with a current of its own as [s, V, A] where both stand in one row. */
  readonly first?: readonly number[];
  readonly last?: readonly number[];
  readonly count?: number;
  /** Readings of the current as [s, A], where they do not stand beside every voltage. */
  readonly firstCurrent?: readonly [number, number];
  readonly lastCurrent?: readonly [number, number];
  /** Moment of time zero as ISO 8601. */
  readonly start?: string;
  /** Sentences, or parts of them, among what was understood or warned of. */
  readonly says?: readonly string[];
  /** The one sentence of the refusal. */
  readonly refused?: string;
}

/** Lines of a log. */
export const lines = (...rows: readonly string[]): string => `${rows.join("\n")}\n`;

/** As many rows as the function makes. */
export const rows = (count: number, row: (i: number) => string): string[] =>
  Array.from({ length: count }, (_, i) => row(i));

export const utf16 = (text: string, order: "le" | "be", mark: boolean): Uint8Array => {
  const bytes = Buffer.from((mark ? "\ufeff" : "") + text, "utf16le");
  return order === "le" ? bytes : bytes.swap16();
};
