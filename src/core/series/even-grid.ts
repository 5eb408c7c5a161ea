/** A series on an even grid of times; cells without a reading near them hold 0 and the mask 0. */
export interface EvenGrid {
  /** Time of the middle of cell 0, s. */
  readonly startS: number;
  readonly stepS: number;
  readonly values: Float64Array;
  /** 1 where the value stands for readings, 0 where there were none. */
  readonly mask: Float64Array;
}

/** Cells without readings are bridged up to this many times the usual interval. */
const BRIDGE = 3;

/** Puts readings on an even grid: means of those in a cell, straight lines across short stretches without any. */
export function evenGrid(timesS: Float64Array, values: Float64Array, stepS: number, intervalS: number): EvenGrid {
  const startS = timesS[0]!;
  const count = Math.floor((timesS.at(-1)! - startS) / stepS) + 1;
  const sums = new Float64Array(count);
  const mask = new Float64Array(count);
  for (let i = 0; i < timesS.length; i += 1) {
    const cell = Math.min(count - 1, Math.round((timesS[i]! - startS) / stepS));
    sums[cell] = sums[cell]! + values[i]!;
    mask[cell] = mask[cell]! + 1;
  }
  const bridgeCells = Math.max(1, Math.ceil((BRIDGE * intervalS) / stepS));
  let last = -1;
  for (let cell = 0; cell < count; cell += 1) {
    if (mask[cell] === 0) continue;
    sums[cell] = sums[cell]! / mask[cell]!;
    mask[cell] = 1;
    if (last >= 0 && cell - last > 1 && cell - last <= bridgeCells) bridge(sums, mask, last, cell);
    last = cell;
  }
  return { startS, stepS, values: sums, mask };
}

function bridge(values: Float64Array, mask: Float64Array, from: number, to: number): void {
  for (let cell = from + 1; cell < to; cell += 1) {
    const share = (cell - from) / (to - from);
    values[cell] = values[from]! * (1 - share) + values[to]! * share;
    mask[cell] = 1;
  }
}

/** Takes the level off, which is the mean of the readings within `widthS` on either side, in place. */
export function takeLevelOff(grid: EvenGrid, widthS: number): void {
  const { values, mask, stepS } = grid;
  const half = Math.max(1, Math.round(widthS / stepS));
  const count = values.length;
  const sums = new Float64Array(count + 1);
  const counts = new Float64Array(count + 1);
  for (let i = 0; i < count; i += 1) {
    sums[i + 1] = sums[i]! + values[i]! * mask[i]!;
    counts[i + 1] = counts[i]! + mask[i]!;
  }
  for (let i = 0; i < count; i += 1) {
    const low = Math.max(0, i - half);
    const high = Math.min(count, i + half + 1);
    const near = counts[high]! - counts[low]!;
    values[i] = mask[i] === 0 || near === 0 ? 0 : values[i]! - (sums[high]! - sums[low]!) / near;
  }
}
