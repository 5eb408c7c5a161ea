import type { NoiseParameters } from "../noise/noise-parameters.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { Recording } from "../series/recording.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { FoundTrain } from "./search.js";
import { firstAtOrAfter, type OnTime } from "./switching-template.js";

/** What of a train is asked for. */
type Placed = Pick<FoundTrain, "onTimes" | "depthV">;

/** A pause shorter than this share of the on-times around it is none that a hand makes. Common practice, no source. */
const LEAST_PAUSE = 0.1;
/** A train of at least this share of another's depth is no mere remnant of an imperfect fit. Chosen, not measured. */
const LIKE_DEPTH = 0.5;
/** Share of the depth by which the level after a dip may differ from that before it. Chosen, not measured. */
const MOST_STEP = 0.8;
/** Standard uncertainties that a step must be beyond: one in a hundred by chance. */
const BEYOND_NOISE = 2.6;
/** Seconds beside an edge that a needle may take, and seconds of level looked at beyond them. */
const SETTLED_S = 1;
const LEVEL_S = 3;
const FEWEST_READINGS = 2;
/** How far beside a dip its drift is looked at, in means of so long, over no less than so long, seconds. Chosen. */
const DRIFT_S = 20;
const MEAN_S = 0.5;
const LEAST_DRIFT_S = 2;

/** The slow part of the noise beside the trains. */
export type Wander = Pick<NoiseParameters, "colouredV" | "walkVPerSqrtS">;

/**
 * Which trains may be pieces of dips that the search could not fit in one, such as those longer than its longest on-time:
 * their number, depths and on-times say nothing of any load.
 *
 * Pieces touch or overlap one another, or the voltage does not come back after them to where it was. Where there are any,
 * every shallower train may be what their poor fit left behind.
 */
export function dipsInPieces(recording: Recording, trains: readonly Placed[], wander: Wander): readonly boolean[] {
  const allTimes = trains.flatMap(({ onTimes }) => onTimes);
  const pieces = trains.filter(
    (train) => touchesOthers(train, trains) || standsInSteps(recording, train, allTimes, wander),
  );
  const deepestV = pieces.reduce((most, { depthV }) => Math.max(most, depthV), 0);
  return trains.map(({ depthV }) => depthV <= deepestV);
}

function touchesOthers(train: Placed, trains: readonly Placed[]): boolean {
  const others = trains.filter(({ depthV }) => depthV >= LIKE_DEPTH * train.depthV).flatMap(({ onTimes }) => onTimes);
  return train.onTimes.some((one) => others.some((other) => other !== one && touch(one, other)));
}

function touch(a: OnTime, b: OnTime): boolean {
  const pauseS = LEAST_PAUSE * Math.min(a.releaseS - a.onsetS, b.releaseS - b.onsetS);
  return a.onsetS < b.releaseS + pauseS && b.onsetS < a.releaseS + pauseS;
}

/**
 * Whether the level steps by about the depth from before to after at least half of the dips that have both sides free.
 *
 * A level that relaxes comes lower in those seconds too, by more than a faint dip is deep: its drift is taken off where that leaves less.
 * Noise makes steps too: one must be more than it would make.
 */
function standsInSteps(
  recording: Recording,
  train: Placed,
  allTimes: readonly OnTime[],
  { colouredV, walkVPerSqrtS }: Wander,
): boolean {
  const steps = train.onTimes.flatMap(({ onsetS, releaseS }) => {
    const nextS = Math.min(Number.POSITIVE_INFINITY, ...allTimes.map((one) => one.onsetS).filter((s) => s >= releaseS));
    const lastS = Math.max(Number.NEGATIVE_INFINITY, ...allTimes.map((one) => one.releaseS).filter((s) => s <= onsetS));
    const [beforeS, afterS] = [onsetS - SETTLED_S, releaseS + SETTLED_S];
    const firstS = Math.max(beforeS - LEVEL_S, lastS + SETTLED_S);
    const endS = Math.min(afterS + LEVEL_S, nextS - SETTLED_S);
    const before = levelV(recording, firstS, beforeS);
    const after = levelV(recording, afterS, endS);
    if (before === null || after === null) return [];
    const apartS = (afterS + endS) / 2 - (firstS + beforeS) / 2;
    const driftV = driftVPerS(recording, { onsetS, releaseS }, allTimes) * apartS;
    const stepV = after.value - before.value;
    const uV = rootSumSquares(before.u, after.u, colouredV, colouredV, walkVPerSqrtS * Math.sqrt(apartS));
    // The drift is uncertain too: what it makes of a level that did not step is no step.
    const surelyV = Math.min(Math.abs(stepV), Math.abs(stepV - driftV));
    return [surelyV > MOST_STEP * train.depthV && surelyV > BEYOND_NOISE * uV];
  });
  return steps.length > 0 && 2 * steps.filter(Boolean).length >= steps.length;
}

/** Median of the readings in a stretch with its standard uncertainty by their own scatter, volts; null for too few. */
function levelV({ timesS, voltagesV }: Recording, fromS: number, toS: number): Uncertain | null {
  const inside = voltagesV.slice(firstAtOrAfter(timesS, fromS), firstAtOrAfter(timesS, toS)).sort();
  const count = inside.length;
  if (count < FEWEST_READINGS) return null;
  // Half of normal readings lie within 1.349 standard deviations; their median scatters by the root of pi / 2 over their number.
  const sigmaV = (inside[Math.floor(0.75 * (count - 1))] - inside[Math.ceil(0.25 * (count - 1))]) / 1.349;
  return { value: inside[count >> 1], u: sigmaV * Math.sqrt(Math.PI / 2 / count) };
}

/**
 * Slope of the level beside a dip, volts per second; 0 where too little of it is free of dips.
 *
 * Median of the slopes between means of the same free stretch (Theil 1950, Sen 1968; from memory): what happens once
 * beside the dip moves it little.
 */
function driftVPerS(recording: Recording, dip: OnTime, allTimes: readonly OnTime[]): number {
  const slopes = freeStretches(dip, allTimes).flatMap(([fromS, toS]) => {
    const means = meansV(recording, fromS, toS);
    return means.flatMap(([timeS, valueV], k) =>
      means.slice(k + 1).flatMap((later) => {
        const apartS = later[0] - timeS;
        return apartS < LEAST_DRIFT_S ? [] : [(later[1] - valueV) / apartS];
      }),
    );
  });
  return slopes.length === 0 ? 0 : slopes.sort((a, b) => a - b)[slopes.length >> 1];
}

/** Stretches beside a dip that lie in no dip and not beside an edge. */
function freeStretches({ onsetS, releaseS }: OnTime, allTimes: readonly OnTime[]): (readonly [number, number])[] {
  const [startS, endS] = [onsetS - DRIFT_S, releaseS + DRIFT_S];
  const taken = allTimes
    .filter((one) => one.onsetS < endS && one.releaseS > startS)
    .sort((a, b) => a.onsetS - b.onsetS);
  const edges = [startS, ...taken.flatMap((one) => [one.onsetS - SETTLED_S, one.releaseS + SETTLED_S]), endS];
  return Array.from({ length: edges.length / 2 }, (_, k) => [edges[2 * k], edges[2 * k + 1]] as const);
}

/** Means of the readings of each half second of a stretch, with their mean times; none of what holds no reading. */
function meansV({ timesS, voltagesV }: Recording, fromS: number, toS: number): (readonly [number, number])[] {
  const count = Math.max(0, Math.floor((toS - fromS) / MEAN_S));
  return Array.from({ length: count }, (_, k) => {
    const [first, end] = [k, k + 1].map((one) => firstAtOrAfter(timesS, fromS + one * MEAN_S));
    const mean = (values: Float64Array) => values.slice(first, end).reduce((sum, v) => sum + v, 0) / (end - first);
    return [mean(timesS), mean(voltagesV)] as const;
  }).filter(([timeS]) => !Number.isNaN(timeS));
}
