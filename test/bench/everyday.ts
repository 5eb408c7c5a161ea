import type { SimulatedRecording } from "./simulate.js";

/** What the person knows of the switching. */
export type Knowledge = "marked" | "cadence" | "nothing";

/** A way that a careful person might use, with one choice of its settings; larger statistics speak for a dip. */
export interface EverydayWay {
  readonly family: "moving average" | "CUSUM" | "least-squares segmentation" | "plain lock-in";
  readonly settings: string;
  readonly statistic: (recording: SimulatedRecording) => number;
}

/** Every way with every setting that is tried; the best of each family is chosen on training recordings. */
export function everydayWays(knowledge: Knowledge, isLong: boolean): EverydayWay[] {
  const levelSpansS = isLong ? [40, 60, 120] : [12, 20, 1000];
  return levelSpansS.flatMap((levelS) => [
    ...[1, 2, 3.5, 5, 8].map((lengthS) => movingAverage(knowledge, levelS, lengthS)),
    ...[0.05, 0.1, 0.15, 0.25, 0.5, 1].flatMap((k) => [
      cusum(knowledge, levelS, k, false),
      cusum(knowledge, levelS, k, true),
    ]),
    ...[0.5, 1].map((blockS) => segmentation(knowledge, levelS, blockS)),
    lockIn(knowledge, levelS),
  ]);
}

/** Mean over `lengthS` below the level, over the readings' scatter. */
function movingAverage(knowledge: Knowledge, levelS: number, lengthS: number): EverydayWay {
  return {
    family: "moving average",
    settings: `${lengthS} s against ${levelS} s`,
    statistic: (recording) => {
      const { timesS } = recording;
      const fallV = levelled(recording, levelS);
      const meanV = slidingMean(timesS, fallV, lengthS);
      return largestNear(recording, knowledge, timesS, meanV) / noiseScatter(fallV);
    },
  };
}

/** One-sided cumulative sum of falls over `k` standard deviations, on readings or on their AR(1) innovations. */
function cusum(knowledge: Knowledge, levelS: number, k: number, isWhitened: boolean): EverydayWay {
  return {
    family: "CUSUM",
    settings: `k ${k}${isWhitened ? ", AR(1) innovations" : ""}, level ${levelS} s`,
    statistic: (recording) => {
      const fallV = levelled(recording, levelS);
      const series = isWhitened ? innovations(fallV) : fallV;
      const scatter = noiseScatter(series);
      let sum = 0;
      const sums = series.map((value) => {
        sum = Math.max(0, sum + value / scatter - k);
        return sum;
      });
      return largestNear(recording, knowledge, recording.timesS, sums);
    },
  };
}

/** Largest penalty, in variances, at which least squares still sees a step (near a mark where marks are known). */
function segmentation(knowledge: Knowledge, levelS: number, blockS: number): EverydayWay {
  return {
    family: "least-squares segmentation",
    settings: `blocks of ${blockS} s, level ${levelS} s`,
    statistic: (recording) => {
      const fallV = levelled(recording, levelS);
      const blocks = blockMeans(recording.timesS, fallV, blockS);
      const scatter = noiseScatter(blocks.meansV);
      const series = blocks.meansV.map((value) => value / scatter);
      let low = 0;
      let high = 4000;
      for (let round = 0; round < 12; round++) {
        const penalty = Math.sqrt((low + 1) * (high + 1)) - 1;
        const steps = leastSquaresSteps(series, penalty).map((index) => blocks.startsS[index]);
        const counted = knowledge === "marked" ? steps.filter((timeS) => isNearMark(recording, timeS, 1.5)) : steps;
        if (counted.length > 0) low = penalty;
        else high = penalty;
      }
      return low;
    },
  };
}

/** Square wave in step with the switching: mean while off less mean while on, over the readings' scatter. */
function lockIn(knowledge: Knowledge, levelS: number): EverydayWay {
  return {
    family: "plain lock-in",
    settings: `level ${levelS} s`,
    statistic: (recording) => {
      const fallV = levelled(recording, levelS);
      if (knowledge === "marked") {
        const onTimes = markedOnTimes(recording);
        return squareWaveScore(recording.timesS, fallV, onTimes) / noiseScatter(fallV);
      }
      const { switchingCount, onS, offS } = recording.cadence;
      const rhythms =
        knowledge === "cadence"
          ? [{ count: switchingCount, onS, offS }]
          : [3, 4, 5].flatMap((count) => [3, 4, 5, 6.5, 8, 10].map((sameS) => ({ count, onS: sameS, offS: sameS })));
      const scores = rhythms.map((rhythm) => lockInScan(recording.timesS, fallV, rhythm));
      return Math.max(...scores);
    },
  };
}

interface Rhythm {
  readonly count: number;
  readonly onS: number;
  readonly offS: number;
}

/** Largest square-wave score over the starting time, over the readings' scatter. */
function lockInScan(timesS: Float64Array, fallV: Float64Array, { count, onS, offS }: Rhythm): number {
  const sums = runningSums(fallV);
  const endS = timesS[timesS.length - 1];
  const trainS = count * (onS + offS) - offS;
  const scores: number[] = [];
  for (let startS = timesS[0]; startS + trainS <= endS; startS += 0.25) {
    let score = 0;
    let onCount = 0;
    for (let k = 0; k < count; k++) {
      const from = firstAtOrAfter(timesS, startS + k * (onS + offS));
      const to = firstAtOrAfter(timesS, startS + k * (onS + offS) + onS);
      score += sums[to] - sums[from];
      onCount += to - from;
    }
    const from = firstAtOrAfter(timesS, startS - offS);
    const to = firstAtOrAfter(timesS, startS + trainS + offS);
    const offCount = to - from - onCount;
    if (onCount > 0 && offCount > 0) scores.push(score / onCount - (sums[to] - sums[from] - score) / offCount);
  }
  if (scores.length === 0) return Number.NEGATIVE_INFINITY;
  return Math.max(...scores) / noiseScatter(fallV);
}

function squareWaveScore(
  timesS: Float64Array,
  fallV: Float64Array,
  onTimes: readonly (readonly [number, number])[],
): number {
  const firstS = onTimes[0][0] - 5;
  const lastS = onTimes[onTimes.length - 1][1] + 5;
  let onV = 0;
  let offV = 0;
  let onCount = 0;
  let offCount = 0;
  for (let i = 0; i < timesS.length; i++) {
    if (timesS[i] < firstS || timesS[i] > lastS) continue;
    if (onTimes.some(([onS, offS]) => timesS[i] >= onS && timesS[i] < offS)) {
      onV += fallV[i];
      onCount++;
    } else {
      offV += fallV[i];
      offCount++;
    }
  }
  return onV / Math.max(1, onCount) - offV / Math.max(1, offCount);
}

function markedOnTimes({ marks }: SimulatedRecording): (readonly [number, number])[] {
  const ons = marks.filter(({ action }) => action === "on").map(({ timeS }) => timeS);
  const offs = marks.filter(({ action }) => action === "off").map(({ timeS }) => timeS);
  return ons.map((onS, k) => [onS, offs[k]] as const);
}

/** Level less readings: the level is a running median-free mean, or a parabola where the span exceeds the recording. */
function levelled({ timesS, voltagesV }: SimulatedRecording, levelS: number): Float64Array {
  const clean = withoutSpikes(voltagesV);
  const durationS = timesS[timesS.length - 1] - timesS[0];
  const levelV = levelS >= durationS ? parabola(timesS, clean) : slidingMean(timesS, clean, levelS);
  return clean.map((value, i) => levelV[i] - value);
}

/** Readings further than five robust standard deviations from the median of five are replaced by it. */
function withoutSpikes(valuesV: Float64Array): Float64Array {
  const medians = valuesV.map((value, i) => {
    if (i < 2 || i >= valuesV.length - 2) return value;
    return [...valuesV.subarray(i - 2, i + 3)].sort((a, b) => a - b)[2];
  });
  const limit = 5 * robustScatter(valuesV.map((value, i) => value - medians[i]));
  if (limit === 0) return valuesV;
  return valuesV.map((value, i) => (Math.abs(value - medians[i]) > limit ? medians[i] : value));
}

/** Mean of the readings within half the length on either side. */
function slidingMean(timesS: Float64Array, values: Float64Array, lengthS: number): Float64Array {
  const sums = runningSums(values);
  let from = 0;
  let to = 0;
  return values.map((_, i) => {
    while (timesS[from] < timesS[i] - lengthS / 2) from++;
    while (to < timesS.length && timesS[to] <= timesS[i] + lengthS / 2) to++;
    return (sums[to] - sums[from]) / (to - from);
  });
}

function parabola(timesS: Float64Array, values: Float64Array): Float64Array {
  const middleS = (timesS[0] + timesS[timesS.length - 1]) / 2;
  const halfS = (timesS[timesS.length - 1] - timesS[0]) / 2;
  const moments = [0, 0, 0, 0, 0];
  const products = [0, 0, 0];
  for (let i = 0; i < values.length; i++) {
    const x = (timesS[i] - middleS) / halfS;
    for (let p = 0; p < 5; p++) moments[p] += x ** p;
    for (let p = 0; p < 3; p++) products[p] += values[i] * x ** p;
  }
  const rows = [0, 1, 2].map((r) => [moments[r], moments[r + 1], moments[r + 2], products[r]]);
  for (let r = 0; r < 3; r++) {
    for (let other = 0; other < 3; other++) {
      if (other === r) continue;
      const factor = rows[other][r] / rows[r][r];
      for (let c = r; c < 4; c++) rows[other][c] -= factor * rows[r][c];
    }
  }
  const [a, b, c] = rows.map((row, r) => row[3] / row[r]);
  return timesS.map((timeS) => {
    const x = (timeS - middleS) / halfS;
    return a + b * x + c * x * x;
  });
}

/** AR(1) innovations; the coefficient comes from the differences' correlation, which dips hardly touch. */
function innovations(series: Float64Array): Float64Array {
  const steps = differences(series);
  let square = 0;
  let product = 0;
  for (let i = 1; i < steps.length; i++) {
    square += steps[i] ** 2;
    product += steps[i] * steps[i - 1];
  }
  // For an AR(1) series the differences correlate by (phi - 1) / 2.
  const phi = square === 0 ? 0 : Math.min(0.98, Math.max(0, 1 + (2 * product) / square));
  return series.map((value, i) => (i === 0 ? value : value - phi * series[i - 1]));
}

/** Largest value, only while a mark says on (and a second after) where marks are known. */
function largestNear(
  recording: SimulatedRecording,
  knowledge: Knowledge,
  timesS: Float64Array,
  series: Float64Array,
): number {
  const onTimes = knowledge === "marked" ? markedOnTimes(recording) : null;
  let largest = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < series.length; i++) {
    if (series[i] <= largest) continue;
    if (onTimes === null || onTimes.some(([onS, offS]) => timesS[i] >= onS && timesS[i] < offS + 1))
      largest = series[i];
  }
  return largest;
}

function isNearMark(recording: SimulatedRecording, timeS: number, withinS: number): boolean {
  return recording.marks.some((mark) => Math.abs(mark.timeS - timeS) <= withinS);
}

function blockMeans(timesS: Float64Array, values: Float64Array, blockS: number) {
  const startsS: number[] = [];
  const means: number[] = [];
  for (let from = 0; from < timesS.length; ) {
    const startS = timesS[0] + Math.floor((timesS[from] - timesS[0]) / blockS) * blockS;
    let to = from;
    let sum = 0;
    while (to < timesS.length && (to === from || timesS[to] < startS + blockS)) sum += values[to++];
    startsS.push(startS);
    means.push(sum / (to - from));
    from = to;
  }
  return { startsS, meansV: Float64Array.from(means) };
}

/** First index of every segment but the first; exact optimal partitioning with pruning (Killick 2012). */
function leastSquaresSteps(series: Float64Array, penalty: number): number[] {
  const n = series.length;
  const sums = runningSums(series);
  const squares = runningSums(series.map((value) => value * value));
  const cost = (from: number, to: number) => squares[to] - squares[from] - (sums[to] - sums[from]) ** 2 / (to - from);
  const best = new Float64Array(n + 1);
  best[0] = -penalty;
  const last = new Int32Array(n + 1);
  let candidates = [0];
  for (let to = 1; to <= n; to++) {
    best[to] = Number.POSITIVE_INFINITY;
    for (const from of candidates) {
      const value = best[from] + cost(from, to) + penalty;
      if (value < best[to]) {
        best[to] = value;
        last[to] = from;
      }
    }
    candidates = candidates.filter((from) => best[from] + cost(from, to) <= best[to]);
    candidates.push(to);
  }
  const steps: number[] = [];
  for (let to = last[n]; to > 0; to = last[to]) steps.push(to);
  return steps;
}

function runningSums(values: Float64Array): Float64Array {
  const sums = new Float64Array(values.length + 1);
  for (let i = 0; i < values.length; i++) sums[i + 1] = sums[i] + values[i];
  return sums;
}

function differences(values: Float64Array): Float64Array {
  return values.subarray(1).map((value, i) => value - values[i]);
}

/** Standard deviation from the differences of neighbours, which hardly see dips and drift. */
function noiseScatter(values: Float64Array): number {
  return robustScatter(differences(values)) / Math.SQRT2;
}

/** 1.4826 x median absolute deviation from the median; the standard deviation where more than half agree. */
function robustScatter(values: Float64Array): number {
  const sorted = Float64Array.from(values).sort();
  const median = sorted[sorted.length >> 1];
  const deviations = sorted.map((value) => Math.abs(value - median)).sort();
  const scatter = 1.4826 * deviations[deviations.length >> 1];
  if (scatter > 0) return scatter;
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / values.length) || 1;
}

function firstAtOrAfter(timesS: Float64Array, timeS: number): number {
  let low = 0;
  let high = timesS.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (timesS[middle] < timeS) low = middle + 1;
    else high = middle;
  }
  return low;
}
