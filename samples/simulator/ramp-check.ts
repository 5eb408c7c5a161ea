import type { SimulatedSwitching } from "./bus-circuit.js";
import type { RandomSource } from "./random-source.js";

/** The person at the switches: each load in turn, `repeatCount` times, never quite on the beat. */
export function rampCheck(options: {
  readonly loads: readonly string[];
  readonly repeatCount: number;
  readonly firstOnS: number;
  readonly onS: number;
  readonly offS: number;
  /** Standard deviation of the hand about the beat. */
  readonly handS: number;
  readonly random: RandomSource;
}): { readonly switchings: SimulatedSwitching[]; readonly endS: number } {
  const switchings: SimulatedSwitching[] = [];
  let beatS = options.firstOnS;
  const hand = () => Math.max(-3, Math.min(3, options.random.normal())) * options.handS;
  for (const load of options.loads) {
    for (let repeat = 0; repeat < options.repeatCount; repeat++) {
      switchings.push({ load, onS: beatS + hand(), offS: beatS + options.onS + hand() });
      beatS += options.onS + options.offS;
    }
  }
  return { switchings, endS: beatS };
}

/** Marks as a second person writes them down: a reaction late or early, to the tenth of a second. */
export function noteDown(
  switchings: readonly SimulatedSwitching[],
  reactionS: number,
  random: RandomSource,
): { timeS: number; load: string; action: "on" | "off" }[] {
  const noted = (timeS: number) => Math.round((timeS + reactionS * random.normal()) * 10) / 10;
  return switchings.flatMap((one) => [
    { timeS: noted(one.onS), load: one.load, action: "on" as const },
    { timeS: noted(one.offS), load: one.load, action: "off" as const },
  ]);
}
