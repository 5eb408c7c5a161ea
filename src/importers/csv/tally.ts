/** How often something was met, and on which line first. */
export interface Tally {
  count: number;
  firstLine: number;
}

export function tally(): Tally {
  return { count: 0, firstLine: 0 };
}

export function meet(tally: Tally, line: number): void {
  if (tally.count === 0) tally.firstLine = line;
  tally.count += 1;
}
