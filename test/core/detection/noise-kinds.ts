import { type RandomSource, randomSource } from "../../../samples/simulator/random-source.js";
import type { WorkingSeries } from "../../../src/core/series/working-series.js";

/** Noise of one kind, drawn step by step on an even grid; the recursions are the processes' own definitions. */
export interface NoiseKind {
  readonly name: string;
  readonly whiteV: number;
  readonly colouredV: number;
  readonly walkVPerSqrtS: number;
}

export const noiseKinds: readonly NoiseKind[] = [
  { name: "white", whiteV: 0.03, colouredV: 0, walkVPerSqrtS: 0 },
  { name: "coloured", whiteV: 0.02, colouredV: 0.03, walkVPerSqrtS: 0 },
  { name: "wandering", whiteV: 0.02, colouredV: 0, walkVPerSqrtS: 0.006 },
  { name: "white, coloured and wandering", whiteV: 0.02, colouredV: 0.02, walkVPerSqrtS: 0.004 },
];

/** Readings at an even rate about a relaxing battery, with a dip of unit shape where one is planted. */
export function noisySeries(
  kind: NoiseKind,
  plan: {
    readonly seed: number;
    readonly rateHz: number;
    readonly durationS: number;
    readonly fallV?: (timeS: number) => number;
  },
): WorkingSeries {
  const random: RandomSource = randomSource(plan.seed);
  const intervalS = 1 / plan.rateHz;
  const decay = Math.exp(-intervalS / 0.6);
  let colouredV = kind.colouredV * random.normal();
  let levelV = 24.2;
  const timesS = Float64Array.from({ length: Math.round(plan.durationS * plan.rateHz) }, (_, i) => i * intervalS);
  const valuesV = timesS.map((t) => {
    colouredV = decay * colouredV + Math.sqrt(1 - decay ** 2) * kind.colouredV * random.normal();
    levelV += kind.walkVPerSqrtS * Math.sqrt(intervalS) * random.normal();
    const relaxationV = 0.2 * Math.exp(-t / 80);
    return levelV - relaxationV + colouredV + kind.whiteV * random.normal() - (plan.fallV?.(t) ?? 0);
  });
  return {
    timesS,
    valuesV,
    readingCounts: new Float64Array(timesS.length).fill(1),
    blockS: 0,
    outlierCount: 0,
    readingScatterV: Math.hypot(kind.whiteV, kind.colouredV * Math.sqrt(1 - decay)),
    medianIntervalS: intervalS,
  };
}

/** Fall of a load of unit depth through a first-order lag of 0.2 s, with a quarter of inrush that settles in 2 s. */
export function fallOf(onTimes: readonly (readonly [number, number])[], inrush = 0): (timeS: number) => number {
  const lagS = 0.2;
  const settleS = 2;
  const risen = (since: number) => {
    if (since <= 0) return 0;
    const step = 1 - Math.exp(-since / lagS);
    return step + inrush * (settleS / (settleS - lagS)) * (Math.exp(-since / settleS) - Math.exp(-since / lagS));
  };
  return (t) =>
    onTimes.reduce((sum, [onS, offS]) => {
      if (t <= onS) return sum;
      return sum + (t <= offS ? risen(t - onS) : risen(offS - onS) * Math.exp(-(t - offS) / lagS));
    }, 0);
}
