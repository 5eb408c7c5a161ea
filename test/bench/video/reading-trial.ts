import { randomSource } from "../../../samples/simulator/random-source.js";
import type { Dial } from "../../../src/importers/video/dial.js";
import { findDial, type NeedleReading, readNeedle } from "../../../src/importers/video/needle-reading.js";
import { openClip } from "../../../src/importers/video/node/node-clip.js";
import type { BenchClip } from "./clips.js";

/** What reading one clip was worth, V unless named. */
export interface ReadingFigures {
  readonly frames: number;
  readonly readings: number;
  /** RMS about the mean error; frame to frame over root 2. */
  readonly rmsV: number;
  /** The same about the weighted mean, each reading by what it states of itself: a frame that the codec starved has little say. */
  readonly weighedRmsV: number;
  readonly jitterV: number;
  /** Dip that stands at 5 times the RMS of the step estimator. */
  readonly leastDipV: number;
  readonly offsetV: number;
  readonly uOffsetV: number;
  readonly gain: number;
  readonly uGain: number;
  /** Share of readings within 1.96 of their stated uncertainty about the mean error. */
  readonly coverage: number;
  /** Processor time of finding the dial and of reading, s. */
  readonly findS: number;
  readonly readS: number;
}

/** A person's ordinary clicks: 1 px on each mark, 3 px on the pivot (standard deviations along each axis). */
export function ordinaryClicks({ plan, truth }: BenchClip, seed: number): Dial {
  const random = randomSource(seed);
  const near = (place: { x: number; y: number }, sd: number) => ({
    x: place.x + sd * random.normal(),
    y: place.y + sd * random.normal(),
  });
  return {
    still: { timeS: truth.still.timeS, width: plan.width, height: plan.height },
    pivot: near(truth.still.pivot, 3),
    marks: truth.still.marks.map((mark) => ({ ...near(mark, 1), volts: mark.volts })),
  };
}

/** Reads the clip through the clicks of a seed and holds every reading against the truth. */
export async function readingTrial(bench: BenchClip, seed: number): Promise<ReadingFigures> {
  const clip = await openClip(bench.path);
  const from = process.cpuUsage();
  const found = await findDial(clip, { dial: ordinaryClicks(bench, seed) });
  if (found.kind === "question") throw new Error(found.instruction);
  const between = process.cpuUsage(from);
  const reading = await readNeedle(clip, found);
  const whole = process.cpuUsage(from);
  const findS = (between.user + between.system) / 1e6;
  return { ...figuresOf(bench, reading), findS, readS: (whole.user + whole.system) / 1e6 - findS };
}

function figuresOf({ truth }: BenchClip, reading: NeedleReading): Omit<ReadingFigures, "findS" | "readS"> {
  const times = Array.from(reading.timesS);
  const truths = times.map((timeS) => truth.volts[nearest(truth.timesS, timeS)]!);
  const errors = truths.map((volts, at) => reading.voltagesV[at]! - volts);
  const [meanTruth, offsetV] = [mean(truths), mean(errors)];
  const slope =
    mean(truths.map((volts, at) => (volts - meanTruth) * (errors[at]! - offsetV))) /
    mean(truths.map((volts) => (volts - meanTruth) ** 2));
  const steps = errors.slice(1).map((error, at) => (error - errors[at]!) ** 2);
  const weights = Array.from(reading.readingUncertaintiesV, (uV) => 1 / uV ** 2);
  const within = errors.filter((error, at) => Math.abs(error - offsetV) < 1.96 * reading.readingUncertaintiesV[at]!);
  return {
    frames: truth.timesS.length,
    readings: times.length,
    rmsV: Math.sqrt(mean(errors.map((error) => (error - offsetV) ** 2))),
    weighedRmsV: weighedRms(errors, weights),
    jitterV: Math.sqrt(mean(steps) / 2),
    leastDipV: 5 * stepRms(times, errors),
    offsetV,
    uOffsetV: reading.offsetUncertaintyV,
    gain: 1 + slope,
    uGain: reading.gainUncertainty,
    coverage: within.length / errors.length,
  };
}

/** RMS of (mean of 0.5 to 1.1 s after a moment, less that of the 0.5 s before it), at every reading's moment. */
function stepRms(timesS: readonly number[], errors: readonly number[]): number {
  const squares: number[] = [];
  for (const momentS of timesS) {
    const before = errors.filter((_, at) => timesS[at]! >= momentS - 0.5 && timesS[at]! < momentS);
    const after = errors.filter((_, at) => timesS[at]! >= momentS + 0.5 && timesS[at]! < momentS + 1.1);
    if (before.length >= 10 && after.length >= 12) squares.push((mean(after) - mean(before)) ** 2);
  }
  return Math.sqrt(mean(squares));
}

function nearest(timesS: readonly number[], timeS: number): number {
  const at = timesS.findIndex((time) => Math.abs(time - timeS) < 0.001);
  if (at < 0) throw new Error(`no frame at ${timeS} s: a presentation time is off by more than 1 ms`);
  return at;
}

function weighedRms(values: readonly number[], weights: readonly number[]): number {
  const whole = weights.reduce((sum, weight) => sum + weight, 0);
  const weighed = (of: (value: number) => number) =>
    values.reduce((sum, value, at) => sum + weights[at]! * of(value), 0) / whole;
  const middle = weighed((value) => value);
  return Math.sqrt(weighed((value) => (value - middle) ** 2));
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
