import {
  type CheckPlan,
  type LoadProfile,
  type Obstacle,
  planCheck,
  type SwitchingPattern,
  statedReadings,
  switchingPattern,
} from "../core/index.js";
import { readProfile } from "../importers/browser.js";
import { plainLabel } from "../report/label-text.js";
import { chanceText, obstacleText, planNames } from "../report/plan/plan-words.js";
import { BEAT_UNCERTAINTY_S } from "./beat-schedule.js";

/** A load as it can be switched to the beat. */
export interface BeatLoad {
  /** Null where no profile names what is switched. */
  readonly id: string | null;
  readonly name: string;
  readonly caution: string | null;
  /** Unequal times on and off; null where the load's limit leaves no room for them. */
  readonly pattern: SwitchingPattern | null;
  /** Whether it is switched unless the person says otherwise. */
  readonly isWanted: boolean;
  /** What the plan promises of it, or why it promises nothing; empty where nobody asked the plan. */
  readonly promise: string;
}

/** What is switched where the plan has no beat for a load. Common practice, no source. */
const USUAL = { switchingCount: 3, cadenceS: 5 } as const;
const SHORTEST_CADENCE_S = 2;

/**
 * Each load of the profile, in the order of the check, with the beat that `busdip plan` gives it, or with so many
 * switchings as the person wants.
 *
 * @throws InputError where the profile cannot be read
 */
export function beatLoads(profileText: string | null, wantedCount: number | null): readonly BeatLoad[] {
  const count = wantedCount ?? USUAL.switchingCount;
  if (profileText === null) {
    const pattern = uneven(count, null);
    return [{ id: null, name: "The load", caution: null, pattern, isWanted: true, promise: "" }];
  }
  const profile = readProfile(profileText, "the profile");
  const readings = statedReadings(null, profile.meter);
  const plan = planCheck(profile, { readings, timeUncertaintyS: BEAT_UNCERTAINTY_S });
  return plan.items.map(({ load, needle }) => {
    const planned = needle?.pattern ?? null;
    return {
      id: load.id,
      name: plainLabel(load.name ?? load.id),
      caution: load.caution === undefined ? null : plainLabel(load.caution, 300),
      pattern: wantedCount === null && planned !== null ? planned : uneven(count, load),
      isWanted: needle !== null && (planned !== null || isUnforeseen(needle.obstacle)),
      promise: promiseText(needle, plan, wantedCount),
    };
  });
}

/** What is mended in the page's own form, not by an option or a key of the profile's file. */
const MENDED_HERE: Partial<Record<Obstacle["code"], string>> = {
  "no-resistance":
    "the battery's internal resistance is not known, so the dip cannot be foreseen; give it under Aircraft and loads.",
  "no-current": "its current is not known; give its rating or acceptable currents under Aircraft and loads.",
  "no-reading-noise":
    "how much the readings jitter is not known; give the meter's smallest division under Aircraft and loads.",
};

type Needle = CheckPlan["items"][number]["needle"];

function promiseText(needle: Needle, plan: CheckPlan, wantedCount: number | null): string {
  if (needle === null) return "Shows by itself: the meter is not needed.";
  if (needle.obstacle !== null) {
    const { code } = needle.obstacle;
    return `No promise: ${MENDED_HERE[code] ?? obstacleText(needle.obstacle, planNames(plan))}`;
  }
  return wantedCount === null ? `Chance to be found: ${chanceText(needle)}.` : "";
}

/** Nothing says that the meter cannot show it; too little is known to promise that it can. */
function isUnforeseen(obstacle: Obstacle | null): boolean {
  const codes: readonly string[] = ["no-resistance", "no-current", "no-reading-noise", "uncertain-resistance"];
  return obstacle !== null && codes.includes(obstacle.code);
}

/** So many switchings of unequal times, as long as the load's limit on all its times on together allows. */
function uneven(switchingCount: number, load: LoadProfile | null): SwitchingPattern | null {
  for (let cadenceS: number = USUAL.cadenceS; cadenceS >= SHORTEST_CADENCE_S; cadenceS--) {
    const pattern = switchingPattern({ switchingCount, cadenceS, timeLimitS: load?.timeLimitS ?? null });
    if (pattern !== null) return pattern;
  }
  return null;
}
