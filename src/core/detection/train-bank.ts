/** A rhythm of switching in steps of the grid: on, off, on ... */
export interface Rhythm {
  readonly onSteps: number;
  readonly offSteps: number;
}

/** Rhythms that are tried, and how many switchings at most. */
export interface TrainBank {
  readonly rhythms: readonly Rhythm[];
  readonly fewestSwitchings: number;
  readonly mostSwitchings: number;
}

/** On-times of hand switching that are searched, seconds, and how far the off-time may differ. Common practice, no source. */
const SHORTEST_ON_S = 1.8;
const LONGEST_ON_S = 20;
const OFF_RATIOS = [0.55, 0.68, 0.82, 1, 1.2, 1.45, 1.8] as const;
const RATIO = 1.09;

/** Longest train in seconds: what the covariance is known for. */
export const LONGEST_TRAIN_S = 95;

/** Rhythms for a search in which nothing is known of the cadence. */
export function openBank(stepS: number): TrainBank {
  const seen = new Set<string>();
  const rhythms: Rhythm[] = [];
  for (let onS = SHORTEST_ON_S; onS <= LONGEST_ON_S; onS *= RATIO) {
    for (const ratio of OFF_RATIOS) add(rhythms, seen, Math.round(onS / stepS), Math.round((onS * ratio) / stepS));
  }
  return { rhythms, fewestSwitchings: 1, mostSwitchings: 6 };
}

/** Rhythms around a stated cadence: each time to within a tenth. */
export function cadenceBank(
  cadence: { readonly onS: number; readonly offS: number; readonly switchingCount?: number },
  stepS: number,
): TrainBank {
  const seen = new Set<string>();
  const rhythms: Rhythm[] = [];
  for (const a of [0.9, 0.95, 1, 1.05, 1.1]) {
    for (const b of [0.9, 0.95, 1, 1.05, 1.1]) {
      add(rhythms, seen, Math.round((cadence.onS * a) / stepS), Math.round((cadence.offS * b) / stepS));
    }
  }
  const count = cadence.switchingCount;
  return { rhythms, fewestSwitchings: count ?? 1, mostSwitchings: count ?? 6 };
}

function add(rhythms: Rhythm[], seen: Set<string>, onSteps: number, offSteps: number): void {
  const key = `${onSteps},${offSteps}`;
  if (onSteps < 2 || offSteps < 2 || seen.has(key)) return;
  seen.add(key);
  rhythms.push({ onSteps, offSteps });
}
