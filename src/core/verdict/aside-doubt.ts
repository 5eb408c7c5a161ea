import { detectInWindows } from "../detection/detect-in-windows.js";
import type { Switching } from "../detection/switching.js";
import type { MeterProfile } from "../profile.js";
import type { Recording } from "../series/recording.js";
import { mixtureMoments } from "../statistics/normal-mixture.js";
import { rootSumSquares } from "../statistics/portable-power.js";
import type { RandomGenerator } from "../statistics/random.js";

/**
 * By load, the doubt in volts of its depth from a needle that may have lain aside for as long as the load was on.
 *
 * The bus turns a needle about its pivot. An eye that moves, a lamp that the switch lights and a picture whose tone changes
 * shift it, or what is seen of it and its shadow, along its whole length: a turn that is no voltage. Where a shift is fitted
 * beside the turn, the depth is free of that but rough. What it would then change by is judged as the depth itself is, and
 * its size and its uncertainty together are the doubt.
 */
export function asideDoubtsV(
  recording: Recording,
  switching: Switching,
  meter: MeterProfile | undefined,
  random: RandomGenerator,
): ReadonlyMap<string, number> {
  const { asidesV } = recording;
  if (asidesV === undefined) return new Map();
  const { searchedNoise: _, ...told } = switching;
  // As at measured times: whether it comes and goes with the marks is not asked here.
  const atTimes = { ...told, mode: "current" } as const;
  const aside = detectInWindows({ ...recording, voltagesV: asidesV }, atTimes, {
    meter,
    displayStepV: null,
    ownNoiseV: 0,
    random,
  });
  return new Map(
    aside.loads.map(({ response }) => {
      const { mean, sd } = mixtureMoments(response.depth);
      return [response.id, rootSumSquares(mean, sd)];
    }),
  );
}
