import { logarithm } from "../statistics/portable-exponential.js";
import { power, squared } from "../statistics/portable-power.js";

/** A rhythm of switching in steps of the grid: on, off, on ... */
export interface Rhythm {
  readonly onSteps: number;
  readonly offSteps: number;
  /** How much less usual it is than the most usual one: minus the logarithm of its weight. */
  readonly rarity: number;
}

/** Rhythms that are tried, and how many switchings at most. */
export interface TrainBank {
  readonly rhythms: readonly Rhythm[];
  readonly fewestSwitchings: number;
  readonly mostSwitchings: number;
  /** Rarity of each number of switchings, from one on; added to the rhythm's. */
  readonly countRarities: readonly number[];
}

/** On-times of hand switching that are searched, seconds, and how far the off-time may differ. Common practice, no source. */
const SHORTEST_ON_S = 1.8;
const LONGEST_ON_S = 20;
/** Spacing of both. */
const RATIO = 1.045;
/** So many spacings may the off-time be shorter or longer than the on-time: 0.56 to 1.77 times. */
const OFF_REACH = 13;

/** What is usual: three to five switchings, some six seconds on and about as long off. Common practice, no source. */
const USUAL_ON_S = 6;
const ON_SPREAD = 0.5;
const OFF_SPREAD = 0.25;
const COUNT_RARITIES = [1.5, 0.5, 0, 0, 0, 1] as const;
const RAREST = 2.5;

/** Longest train in seconds: what the covariance is known for. */
export const LONGEST_TRAIN_S = 95;

/** Rhythms for a search in which nothing is known of the cadence. */
export function openBank(stepS: number): TrainBank {
  const seen = new Set<string>();
  const rhythms: Rhythm[] = [];
  for (let onS = SHORTEST_ON_S; onS <= LONGEST_ON_S; onS *= RATIO) {
    for (let k = -OFF_REACH; k <= OFF_REACH; k++) {
      const ratio = power(RATIO, k);
      const rarity = oddness(onS / USUAL_ON_S, ON_SPREAD) + oddness(ratio, OFF_SPREAD);
      add(rhythms, seen, { onSteps: Math.round(onS / stepS), offSteps: Math.round((onS * ratio) / stepS), rarity });
    }
  }
  return { rhythms, fewestSwitchings: 1, mostSwitchings: 6, countRarities: COUNT_RARITIES };
}

/** Log-normal about one, to the half, and never so rare that it is not looked for. */
function oddness(ratio: number, spread: number): number {
  return Math.min(RAREST, Math.round(squared(logarithm(ratio) / spread)) / 2);
}

/** Rhythms around a stated cadence: each time to within a tenth. */
export function cadenceBank(
  cadence: { readonly onS: number; readonly offS: number; readonly switchingCount?: number },
  stepS: number,
): TrainBank {
  const seen = new Set<string>();
  const rhythms: Rhythm[] = [];
  const offSteps = stepsAbout(cadence.offS / stepS);
  for (const on of stepsAbout(cadence.onS / stepS)) {
    for (const off of offSteps) add(rhythms, seen, { onSteps: on, offSteps: off, rarity: 0 });
  }
  const count = cadence.switchingCount;
  const countRarities = Array.from({ length: Math.max(6, count ?? 0) }, () => 0);
  return { rhythms, fewestSwitchings: count ?? 1, mostSwitchings: count ?? 6, countRarities };
}

/** Whole numbers within a tenth, about ten of them where there are more. */
function stepsAbout(wanted: number): number[] {
  const low = Math.round(0.9 * wanted);
  const high = Math.round(1.1 * wanted);
  const count = Math.min(high - low, MOST_CADENCE_STEPS - 1);
  return Array.from({ length: count + 1 }, (_, k) => low + Math.round((k * (high - low)) / Math.max(1, count)));
}

const MOST_CADENCE_STEPS = 11;

function add(rhythms: Rhythm[], seen: Set<string>, rhythm: Rhythm): void {
  const { onSteps, offSteps } = rhythm;
  const key = `${onSteps},${offSteps}`;
  if (onSteps < 2 || offSteps < 2 || seen.has(key)) return;
  seen.add(key);
  rhythms.push(rhythm);
}
