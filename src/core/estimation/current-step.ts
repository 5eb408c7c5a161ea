import { displayStepV } from "../noise/display-step.js";
import type { CurrentSeries } from "../series/recording.js";
import { rootSumSquares, squared } from "../statistics/portable-power.js";
import { robustNoise } from "../statistics/robust-scale.js";
import { type Boundary, boundariesOf, largestOf, placesWithoutStrays } from "./current-boundaries.js";
import { levelBeside } from "./level-beside.js";

/**
 * A change of the measured current from one steady level to another within one sampling interval, or two where a single
 * reading caught it halfway or its inrush.
 */
export interface CurrentStep {
  /** Last reading of the old level and first of the new one. */
  readonly beforeS: number;
  readonly afterS: number;
  /**
   * Time of the change: the middle between those two, or `beforeS` where the logger started its sampling anew with the
   * step (the interval changed and the first reading came one new interval after the last old one).
   */
  readonly onsetS: number;
  /** Standard uncertainty of the onset: rectangular between the two readings, 0 where the logger started anew. */
  readonly uOnsetS: number;
  readonly beforeA: number;
  readonly afterA: number;
  /** New level minus old level, in the file's own sign. */
  readonly deltaA: number;
  /** From noise and display step of the readings; without the gain of the clamp. */
  readonly uDeltaA: number;
  /** The levels hold between these two times: from the previous change of the current to the next. */
  readonly quietFromS: number;
  readonly quietToS: number;
}

export interface CurrentStepOptions {
  /** Smallest change that counts; 2 % of the range of the readings when left out. */
  readonly minimumStepA?: number;
}

/** Levels and noise are taken from at most this many readings on either side. */
const SIDE_COUNT = 8;
/** The same where the levels are steady and only a slow drift must be told from the step. */
const WIDE_COUNT = 20;
/** Share of the whole change that must fall into one sampling interval. */
const SHARP_SHARE = 0.9;

/**
 * Finds where the current steps, in order of time.
 *
 * Ramps, slow drift, the settling of a cold heater and single stray readings are not steps. A change counts when it
 * exceeds six standard uncertainties of the difference of the two levels, two display steps and `minimumStepA`. Amperes and
 * seconds; the rule is our own.
 */
export function currentSteps(current: CurrentSeries, options: CurrentStepOptions = {}): CurrentStep[] {
  if (current.currentsA.length < 3) return [];
  const noise = currentNoise(current.currentsA);
  const places = placesWithoutStrays(current.currentsA, noise.sigmaA);
  const timesS = Float64Array.from(places, (k) => current.timesS[k]);
  const currentsA = Float64Array.from(places, (k) => current.currentsA[k]);
  const minimumStepA = options.minimumStepA ?? 0.02 * spanOf(currentsA);
  const changes = currentChanges(currentsA, noise.sigmaA).filter(
    (change) => Math.abs(change.deltaA) >= Math.max(minimumStepA, 2 * noise.quantumA, 6 * change.uDeltaA),
  );
  return changes.flatMap((change, k) => {
    if (!change.sharp) return [];
    const quietFromS = k === 0 ? timesS[0] : timesS[changes[k - 1].end];
    const quietToS = k + 1 < changes.length ? timesS[changes[k + 1].start] : timesS[timesS.length - 1];
    const beforeS = timesS[change.start];
    const afterS = timesS[change.end];
    return [
      {
        beforeS,
        afterS,
        ...onsetBetween(timesS, change.start, change.end),
        beforeA: change.beforeA,
        afterA: change.afterA,
        deltaA: change.deltaA,
        uDeltaA: rootSumSquares(change.uDeltaA, noise.quantumA / Math.sqrt(6)),
        quietFromS,
        quietToS,
      },
    ];
  });
}

/** Noise of one reading and display step, amperes; the step is 0 where the readings show none. */
export function currentNoise(currentsA: Float64Array): { sigmaA: number; quantumA: number } {
  const span = spanOf(currentsA);
  const step = displayStepV(currentsA) ?? 0;
  // Two or three distinct levels are those of the loads, not of the display.
  const quantumA = step > 0.2 * span ? 0 : step;
  return { sigmaA: Math.max(robustNoise(currentsA), 0.3 * quantumA, 1e-6 * span), quantumA };
}

/** A change between the readings `start` (last old) and `end` (first new). */
interface Change {
  readonly start: number;
  readonly end: number;
  readonly beforeA: number;
  readonly afterA: number;
  readonly deltaA: number;
  readonly uDeltaA: number;
  readonly sharp: boolean;
}

function currentChanges(currentsA: Float64Array, sigmaA: number): Change[] {
  const boundaries = boundariesOf(currentsA, sigmaA);
  const changes: Change[] = [];
  for (let first = 0; first < boundaries.length; ) {
    // Boundaries of the same sign that follow within two readings are one change in stages.
    let last = first;
    while (
      last + 1 < boundaries.length &&
      boundaries[last + 1].index - boundaries[last].index <= 2 &&
      boundaries[last + 1].jumpA * boundaries[first].jumpA > 0
    ) {
      last++;
    }
    changes.push(
      describeChange(currentsA, sigmaA, {
        from: first === 0 ? 0 : boundaries[first - 1].index,
        first: boundaries[first].index,
        last: boundaries[last].index,
        to: last + 1 < boundaries.length ? boundaries[last + 1].index : currentsA.length,
        largest: largestOf(boundaries.slice(first, last + 1)),
        stageCount: last + 1 - first,
      }),
    );
    first = last + 1;
  }
  return changes;
}

/** Index bounds of a change: readings `[from, first)` before it, `[last, to)` after it. */
interface ChangeBounds {
  readonly from: number;
  readonly first: number;
  readonly last: number;
  readonly to: number;
  /** Largest stage of it, and how many there are. */
  readonly largest: Boundary;
  readonly stageCount: number;
}

function describeChange(currentsA: Float64Array, sigmaA: number, bounds: ChangeBounds): Change {
  const { from, first, last, to, largest } = bounds;
  const before = levelBeside(currentsA, Math.max(from, first - SIDE_COUNT), first, "end", sigmaA);
  const after = levelBeside(currentsA, last, Math.min(to, last + SIDE_COUNT), "start", sigmaA);
  const steady = first === last && !before.slopes && !after.slopes;
  const { deltaA, noiseFactor } = (steady
    ? stepBesideDrift(currentsA, Math.max(from, first - WIDE_COUNT), first, Math.min(to, first + WIDE_COUNT))
    : null) ?? {
    deltaA: after.level - before.level,
    noiseFactor: rootSumSquares(before.noiseFactor, after.noiseFactor),
  };
  const single = first === last;
  const dominated = Math.abs(largest.jumpA) >= SHARP_SHARE * Math.abs(deltaA);
  // A single reading between the two levels has caught the change halfway.
  const halfway = !single && !dominated && last - first === 1 && bounds.stageCount === 2;
  const standsOut =
    deltaA * largest.jumpA > 0 &&
    Math.abs(deltaA) >= 2.5 * neighbouringSlope(currentsA, first, Math.sign(deltaA), sigmaA);
  return {
    start: !halfway && dominated ? largest.index - 1 : first - 1,
    end: !halfway && dominated ? largest.index : last,
    beforeA: before.level,
    afterA: after.level,
    deltaA,
    uDeltaA: sigmaA * noiseFactor,
    sharp: single ? standsOut : dominated || halfway,
  };
}

/** Step between the readings `[from, middle)` and `[middle, to)` with a drift common to both; null for too few. */
function stepBesideDrift(
  values: Float64Array,
  from: number,
  middle: number,
  to: number,
): { deltaA: number; noiseFactor: number } | null {
  const left = middle - from;
  const right = to - middle;
  if (left < 6 || right < 6) return null;
  const mean = (start: number, end: number) => {
    let sum = 0;
    for (let k = start; k < end; k++) sum += values[k];
    return sum / (end - start);
  };
  const leftMean = mean(from, middle);
  const rightMean = mean(middle, to);
  const leftCentre = (from + middle - 1) / 2;
  const rightCentre = (middle + to - 1) / 2;
  let products = 0;
  let squares = 0;
  for (let k = from; k < to; k++) {
    const away = k < middle ? k - leftCentre : k - rightCentre;
    products += away * values[k];
    squares += away * away;
  }
  const apart = rightCentre - leftCentre;
  return {
    deltaA: rightMean - leftMean - (products / squares) * apart,
    noiseFactor: Math.sqrt(1 / left + 1 / right + squared(apart) / squares),
  };
}

/** Steepest clear slope per reading, in the direction of the step, of the four readings before or after it. */
function neighbouringSlope(values: Float64Array, index: number, direction: number, sigmaA: number): number {
  const reach = 3;
  const slopes = [
    index - 1 - reach >= 0 ? (values[index - 1] - values[index - 1 - reach]) / reach : 0,
    index + reach < values.length ? (values[index + reach] - values[index]) / reach : 0,
  ].map((slope) => direction * slope);
  const steepest = Math.max(...slopes);
  return steepest > (4 * sigmaA * Math.SQRT2) / reach ? steepest : 0;
}

function onsetBetween(timesS: Float64Array, start: number, end: number): { onsetS: number; uOnsetS: number } {
  const gap = timesS[end] - timesS[start];
  const interval = (k: number) => (k > 0 && k < timesS.length ? timesS[k] - timesS[k - 1] : Number.NaN);
  const alike = (a: number, b: number) => Math.abs(a - b) <= 0.05 * b;
  const startedAnew =
    end === start + 1 &&
    alike(interval(end + 1), gap) &&
    alike(interval(end + 2), gap) &&
    alike(interval(start - 1), interval(start)) &&
    Math.abs(interval(start) - gap) > 0.2 * gap;
  if (startedAnew) return { onsetS: timesS[start], uOnsetS: 0 };
  return { onsetS: timesS[start] + gap / 2, uOnsetS: gap / Math.sqrt(12) };
}

function spanOf(values: Float64Array): number {
  let low = values[0];
  let high = values[0];
  for (const value of values) {
    if (value < low) low = value;
    if (value > high) high = value;
  }
  return high - low;
}
