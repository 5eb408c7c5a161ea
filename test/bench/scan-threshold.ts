import type { CellName } from "./cells.js";
import { clairvoyantScores, scanMaximum } from "./clairvoyant.js";
import { simulateRecording } from "./simulate.js";

export interface ScanPlan {
  readonly cell: CellName;
  readonly seeds: readonly number[];
}

/** Seeds of the recordings that set the clairvoyant's threshold, far from those that judge it. */
export const FIRST_SCAN_SEED = 50_000_001;

/** The clairvoyant's largest score on each of these recordings, none of which has a dip. */
export function scanMaxima({ cell, seeds }: ScanPlan): number[] {
  return seeds.map((seed) =>
    scanMaximum(clairvoyantScores(simulateRecording(cell, { seed, depthV: 0, marks: "none" }), true)),
  );
}
