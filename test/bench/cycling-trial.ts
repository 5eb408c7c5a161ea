import { analyze, evenPattern, onTimesOf, type SwitchingPattern, switchingPattern } from "../../src/core/index.js";
import { dipTrain } from "./dip-shape.js";
import { drawNoise, NO_NOISE } from "./noise.js";
import { randomStream } from "./random.js";

/** A dead load is switched while another load cycles by itself, about as fast as the hand. */
export interface CyclingCase {
  readonly switchingCount: number;
  readonly cadenceS: number;
  readonly cyclingV: number;
  readonly rateHz: number;
}

export const CYCLING: CyclingCase = { switchingCount: 6, cadenceS: 5, cyclingV: 0.08, rateHz: 5 };

const QUIET_S = 20;
const SHAPE = { inrush: 0, settleS: 3, polarization: 0.2, polarizationTimeS: 20, lagS: 0.25, lagOrder: 1 } as const;

/** The two ways of switching that are compared. */
export function comparedPatterns({ switchingCount, cadenceS }: CyclingCase): {
  readonly even: SwitchingPattern;
  readonly unequal: SwitchingPattern;
} {
  return {
    even: evenPattern(switchingCount, cadenceS),
    unequal: switchingPattern({ switchingCount, cadenceS, timeLimitS: null })!,
  };
}

/** Verdict on the switched load, which draws `depthV` through the source (0: dead), beside the cycling one. */
export function verdictBeside(test: CyclingCase, pattern: SwitchingPattern, depthV: number, seed: number): string {
  const random = randomStream(seed, "cycling");
  const onTimes = onTimesOf(pattern, QUIET_S);
  const durationS = QUIET_S * 2 + pattern.lengthS;
  const timesS = Float64Array.from({ length: Math.floor(durationS * test.rateHz) }, (_, i) => i / test.rateHz);
  const noiseV = drawNoise({ ...NO_NOISE, whiteV: 0.02, colouredV: 0.01 }, timesS, null, random);
  const periodS = 2 * test.cadenceS * random.between([0.93, 1.07]);
  const phaseS = random.between([0, periodS]);
  const cycles = Array.from({ length: Math.ceil(durationS / periodS) + 1 }, (_, k) => ({
    onS: k * periodS - phaseS,
    offS: (k + 0.5) * periodS - phaseS,
  }));
  const cyclingFall = dipTrain(SHAPE, cycles, timesS);
  const own = onTimes.map(({ onsetS, releaseS }) => ({
    onS: onsetS + 0.2 * random.normal(),
    offS: releaseS + 0.2 * random.normal(),
  }));
  const fall = dipTrain(SHAPE, own, timesS);
  const voltagesV = noiseV.map((v, i) => 24.5 + v - test.cyclingV * cyclingFall[i]! - depthV * fall[i]!);
  const marks = onTimes.flatMap(({ onsetS, releaseS }) => [
    { timeS: onsetS, load: "dead", action: "on" as const },
    { timeS: releaseS, load: "dead", action: "off" as const },
  ]);
  const profile = { meter: { lagS: 0.25 }, loads: [{ id: "dead", kind: "resistive" as const, reference: false }] };
  return analyze({ timesS, voltagesV }, { marks, profile, seed }).loads[0]!.verdict;
}
