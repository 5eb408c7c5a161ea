import type { Recording } from "../series/recording.js";
import type { FoundTrain } from "./search.js";
import { firstAtOrAfter, type OnTime } from "./switching-template.js";

/** A pause shorter than this share of the on-times around it is none that a hand makes. Common practice, no source. */
const LEAST_PAUSE = 0.1;
/** A train of at least this share of another's depth is no mere remnant of an imperfect fit. Chosen, not measured. */
const LIKE_DEPTH = 0.5;
/** Share of the depth by which the level after a dip may differ from that before it. Chosen, not measured. */
const MOST_STEP = 0.8;
/** Seconds beside an edge that a needle may take, and seconds of level looked at beyond them. */
const SETTLED_S = 1;
const LEVEL_S = 3;
const FEWEST_READINGS = 2;

/**
 * Which trains may be pieces of dips that the search could not fit in one, such as those longer than its longest on-time:
 * their number, depths and on-times say nothing of any load.
 *
 * Pieces touch or overlap one another, or the voltage does not come back after them to where it was. Where there are any,
 * every shallower train may be what their poor fit left behind.
 */
export function dipsInPieces(recording: Recording, trains: readonly FoundTrain[]): readonly boolean[] {
  const allTimes = trains.flatMap(({ onTimes }) => onTimes);
  const pieces = trains.filter((train) => touchesOthers(train, trains) || standsInSteps(recording, train, allTimes));
  const deepestV = pieces.reduce((most, { depthV }) => Math.max(most, depthV), 0);
  return trains.map(({ depthV }) => depthV <= deepestV);
}

function touchesOthers(train: FoundTrain, trains: readonly FoundTrain[]): boolean {
  const others = trains.filter(({ depthV }) => depthV >= LIKE_DEPTH * train.depthV).flatMap(({ onTimes }) => onTimes);
  return train.onTimes.some((one) => others.some((other) => other !== one && touch(one, other)));
}

function touch(a: OnTime, b: OnTime): boolean {
  const pauseS = LEAST_PAUSE * Math.min(a.releaseS - a.onsetS, b.releaseS - b.onsetS);
  return a.onsetS < b.releaseS + pauseS && b.onsetS < a.releaseS + pauseS;
}

/** Whether the level steps by about the depth from before to after at least half of the dips that have both sides free. */
function standsInSteps(recording: Recording, train: FoundTrain, allTimes: readonly OnTime[]): boolean {
  const steps = train.onTimes.flatMap(({ onsetS, releaseS }) => {
    const nextS = Math.min(Number.POSITIVE_INFINITY, ...allTimes.map((one) => one.onsetS).filter((s) => s >= releaseS));
    const lastS = Math.max(Number.NEGATIVE_INFINITY, ...allTimes.map((one) => one.releaseS).filter((s) => s <= onsetS));
    const before = levelV(recording, Math.max(onsetS - SETTLED_S - LEVEL_S, lastS + SETTLED_S), onsetS - SETTLED_S);
    const after = levelV(recording, releaseS + SETTLED_S, Math.min(releaseS + SETTLED_S + LEVEL_S, nextS - SETTLED_S));
    return before === null || after === null ? [] : [Math.abs(after - before)];
  });
  const large = steps.filter((stepV) => stepV > MOST_STEP * train.depthV);
  return steps.length > 0 && 2 * large.length >= steps.length;
}

/** Median of the readings in a stretch, volts; null for too few. */
function levelV({ timesS, voltagesV }: Recording, fromS: number, toS: number): number | null {
  const inside = voltagesV.slice(firstAtOrAfter(timesS, fromS), firstAtOrAfter(timesS, toS)).sort();
  return inside.length < FEWEST_READINGS ? null : inside[inside.length >> 1];
}
