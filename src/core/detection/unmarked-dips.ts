import type { Warning } from "../notes.js";
import type { RandomGenerator } from "../statistics/random.js";
import type { DetectedWindow } from "./detect-in-windows.js";
import { type FoundTrain, searchTrains } from "./search.js";

/** Dips that stand in a judged stretch away from every load that responded. */
export interface UnmarkedDips {
  readonly trains: readonly FoundTrain[];
  /** Depth of the deepest of them, volts; 0 for none. */
  readonly deepestV: number;
}

export const NO_UNMARKED: UnmarkedDips = { trains: [], deepestV: 0 };

/** One warning for each train, at its first dip. */
export function warningsOf({ trains }: UnmarkedDips): readonly Warning[] {
  return trains.map(({ onTimes }) => ({ code: "dip-without-mark", onsetS: onTimes[0].onsetS }));
}

/**
 * Looks for dips that no mark accounts for, in stretches where some marked load did not respond.
 *
 * Marks that are late, or that belong to another clock, leave the load's dips standing beside them; then nothing may be
 * concluded from the missing response.
 */
export function unmarkedDips(
  windows: readonly DetectedWindow[],
  isSilent: (id: string) => boolean,
  options: {
    readonly falseAlarmRate: number;
    readonly power: number;
    readonly lagS: number | undefined;
    readonly displayStepV: number | null;
    readonly random: RandomGenerator;
  },
): UnmarkedDips {
  const trains = windows
    .filter(({ detection }) => detection.responses.some(({ id }) => isSilent(id)))
    .flatMap(({ detection }) => {
      const { responses, design } = detection;
      const known = responses.filter(({ refined }) => refined !== null);
      return searchTrains(
        design.series,
        { ...options, cadence: null },
        {
          templates: known.flatMap(({ template, leftovers }) => [template, ...leftovers]),
          onTimes: known.flatMap(({ refined }) => [...refined!.onTimes]),
        },
      ).trains;
    });
  return { trains, deepestV: trains.reduce((most, { depthV }) => Math.max(most, depthV), 0) };
}
