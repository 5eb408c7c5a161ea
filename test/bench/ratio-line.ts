import { appendFileSync } from "node:fs";

/** One line of the performance table: what was measured, against what, and how the two compare. */
export interface RatioLine {
  readonly what: string;
  readonly measured: string;
  /** A named program, bound or promise, with its own figure. */
  readonly reference: string;
  /** The figure over the reference; null where the reference is a target only. */
  readonly ratio: number | null;
  readonly target: string;
}

/** Hands a line to `npm run bench`, which gathers them; does nothing where a bench runs by itself. */
export function tellRatio(line: RatioLine): void {
  const path = process.env.BUSDIP_BENCH_LINES;
  if (path !== undefined) appendFileSync(path, `${JSON.stringify(line)}\n`);
}
