/** Fewest readings at one extreme, and their least share, that make an end of the meter's range. */
const FEWEST = 10;
const LEAST_SHARE = 0.03;
/** Share of the voltage within which other readings come up to an end of the range. Chosen, not measured. */
const NEAR_SHARE = 0.002;
/** Share at one extreme from which on the other readings are too few to tell a display step by. */
const ALMOST_ALL = 0.99;
/** Scatter elsewhere, in steps of the display, from which on noise would have spread readings that stand still. */
const SPREAD_STEPS = 1.5;

/**
 * The voltage at which the meter cannot go on, volts: its highest or lowest reading where many readings are just that
 * one, although noise moves the others; null where neither is.
 *
 * `stepV` is the display step in volts; null where there is none. A display whose digits stand still is no such end: its
 * steps are as large as its noise.
 */
export function meterEndV(voltagesV: Float64Array, stepV: number | null): number | null {
  const n = voltagesV.length;
  let lowestV = Number.POSITIVE_INFINITY;
  let highestV = Number.NEGATIVE_INFINITY;
  let lowestCount = 0;
  let highestCount = 0;
  for (let i = 0; i < n; i++) {
    const v = voltagesV[i];
    if (v <= lowestV) {
      lowestCount = v < lowestV ? 1 : lowestCount + 1;
      lowestV = v;
    }
    if (v >= highestV) {
      highestCount = v > highestV ? 1 : highestCount + 1;
      highestV = v;
    }
  }
  if (lowestV === highestV) return null;
  if (isEnd(voltagesV, highestV, highestCount, stepV ?? 0)) return highestV;
  return isEnd(voltagesV, lowestV, lowestCount, stepV ?? 0) ? lowestV : null;
}

/** `there` readings are just `endV`. */
function isEnd(voltagesV: Float64Array, endV: number, there: number, stepV: number): boolean {
  if (there < Math.max(FEWEST, LEAST_SHARE * voltagesV.length)) return false;
  // Dropouts written as nothing stand far off; noise comes up to the end of a range.
  const nearV = Math.max(NEAR_SHARE * Math.abs(endV), 2 * stepV);
  if (!voltagesV.some((v) => v !== endV && Math.abs(v - endV) < nearV)) return false;
  if (stepV === 0 || there >= ALMOST_ALL * voltagesV.length) return true;
  return Math.max(scatterAwayV(voltagesV, endV), excursionV(voltagesV, endV)) >= SPREAD_STEPS * stepV;
}

/** Mean size of the second differences of readings none of which is `endV`, as one reading's standard deviation. */
function scatterAwayV(voltagesV: Float64Array, endV: number): number {
  let sum = 0;
  let count = 0;
  for (let i = 1; i + 1 < voltagesV.length; i++) {
    const [a, b, c] = [voltagesV[i - 1], voltagesV[i], voltagesV[i + 1]];
    if (a === endV || b === endV || c === endV) continue;
    sum += Math.abs(a - 2 * b + c);
    count += 1;
  }
  return count < FEWEST ? 0 : (1.2533 * sum) / count / Math.sqrt(6);
}

/** Mean distance of readings that leave the end for a moment; 0 where most others stay away for longer. */
function excursionV(voltagesV: Float64Array, endV: number): number {
  let sum = 0;
  let alone = 0;
  let away = 0;
  for (let i = 1; i + 1 < voltagesV.length; i++) {
    if (voltagesV[i] === endV) continue;
    away += 1;
    if (voltagesV[i - 1] !== endV || voltagesV[i + 1] !== endV) continue;
    alone += 1;
    sum += Math.abs(voltagesV[i] - endV);
  }
  return 2 * alone < away || alone === 0 ? 0 : sum / alone;
}
