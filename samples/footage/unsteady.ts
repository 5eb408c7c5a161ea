import type { RandomSource } from "../simulator/random-source.js";

/** A random motion over time, tabulated. */
export type Unsteady = (timeS: number) => number;

const STEP_S = 0.002;

/**
 * A motion with a 1/f spectrum (equal power per octave) between two frequencies, and a tremor on top.
 *
 * `rms` is that of the 1/f part; the tremor is a narrow band about its frequency.
 */
export function unsteadyMotion(
  wish: {
    readonly rms: number;
    readonly lowHz: number;
    readonly highHz: number;
    readonly tremorRms?: number;
    readonly tremorHz?: number;
  },
  durationS: number,
  random: RandomSource,
): Unsteady {
  const waves: { amplitude: number; hz: number; phase: number }[] = [];
  const count = 28;
  for (let k = 0; k < count; k++) {
    const hz = wish.lowHz * (wish.highHz / wish.lowHz) ** ((k + random.uniform()) / count);
    waves.push({ amplitude: wish.rms * Math.sqrt(2 / count), hz, phase: 2 * Math.PI * random.uniform() });
  }
  for (let k = 0; k < 3; k++) {
    const hz = (wish.tremorHz ?? 8.7) * (1 + 0.04 * (k - 1));
    const amplitude = (wish.tremorRms ?? 0) * Math.sqrt(2 / 3);
    waves.push({ amplitude, hz, phase: 2 * Math.PI * random.uniform() });
  }
  return tabulated(durationS, (timeS) =>
    waves.reduce((sum, { amplitude, hz, phase }) => sum + amplitude * Math.sin(2 * Math.PI * hz * timeS + phase), 0),
  );
}

/** A function of time from one second before zero to one second after the end, between whose table values lie lines. */
export function tabulated(durationS: number, value: (timeS: number) => number): Unsteady {
  const table = Float64Array.from({ length: Math.ceil((durationS + 2) / STEP_S) + 2 }, (_, k) => value(k * STEP_S - 1));
  return (timeS) => {
    const place = Math.max(0, Math.min(table.length - 2, (timeS + 1) / STEP_S));
    const index = Math.floor(place);
    return table[index]! + (place - index) * (table[index + 1]! - table[index]!);
  };
}
