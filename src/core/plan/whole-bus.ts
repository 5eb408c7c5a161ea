import type { Analysis, LoadAnswer } from "../analysis.js";
import type { BusProfile, LoadProfile, ShownBy } from "../profile.js";
import { checkOrder } from "./check-order.js";

/** What a person ticked on the run sheet for one load. */
export interface Tick {
  readonly load: string;
  readonly found: "seen" | "heard" | "felt" | "not";
  /** When, in the person's own words; null where it was left blank. */
  readonly when: string | null;
  readonly by: string | null;
  readonly note: string | null;
}

/**
 * What stands for or against one load: `answered` (the meter or a person says it has power), `silent` (the meter excludes
 * an acceptable current, or a person looked and found nothing), `contradiction` (one says so and the other not),
 * `open` (looked for without a clear answer), `no-evidence` (nobody looked).
 */
export type ItemStanding = "answered" | "silent" | "contradiction" | "open" | "no-evidence";

export interface BusItem {
  readonly id: string;
  readonly name: string;
  readonly bus: string | null;
  readonly shows: ShownBy;
  readonly lookFor: string | null;
  /** Null where the recording was not judged for it. */
  readonly answer: LoadAnswer | null;
  readonly tick: Tick | null;
  readonly standing: ItemStanding;
}

/** The whole bus: every load of the profile, and what else answered. */
export interface WholeBus {
  readonly items: readonly BusItem[];
  readonly answeredCount: number;
  /** Loads for which nothing speaks, neither way. */
  readonly withoutEvidenceCount: number;
}

/**
 * Joins what the meter told with what people saw and heard, load by load; nothing is left out.
 *
 * A load that the recording names and the profile does not is listed at the end.
 */
export function wholeBus(profile: BusProfile, analysis: Analysis | null, ticks: readonly Tick[]): WholeBus {
  const answers = analysis?.loads ?? [];
  const known = checkOrder(profile.loads);
  const items = [
    ...known.map((load) => busItem(load, answers, ticks)),
    ...answers
      .filter(({ id }) => !known.some((load) => load.id === id))
      .map((answer) => busItem({ id: answer.id, name: answer.name }, [answer], ticks)),
  ];
  return {
    items,
    answeredCount: items.filter(({ standing }) => standing === "answered").length,
    withoutEvidenceCount: items.filter(({ standing }) => standing === "no-evidence").length,
  };
}

function busItem(
  load: Pick<LoadProfile, "id"> & Partial<LoadProfile>,
  answers: readonly LoadAnswer[],
  ticks: readonly Tick[],
): BusItem {
  const answer = answers.find(({ id }) => id === load.id) ?? null;
  const judged = answer !== null && wasJudged(answer) ? answer : null;
  const tick = ticks.find((one) => one.load === load.id) ?? null;
  return {
    id: load.id,
    name: load.name ?? load.id,
    bus: load.bus ?? null,
    shows: load.shows ?? "needle",
    lookFor: load.lookFor ?? null,
    answer: judged,
    tick,
    standing: standingOf(judged, tick),
  };
}

/** A load that nobody switched has an answer too, but no evidence. */
function wasJudged({ switchingCount, because }: LoadAnswer): boolean {
  return switchingCount > 0 || !["never-switched", "load-not-told", "shows-itself"].includes(because);
}

function standingOf(answer: LoadAnswer | null, tick: Tick | null): ItemStanding {
  const byMeter = answer === null || answer.verdict === "undecided" ? null : answer.verdict === "responded";
  const byPerson = tick === null ? null : tick.found !== "not";
  if (byMeter !== null && byPerson !== null && byMeter !== byPerson) return "contradiction";
  const told = byMeter ?? byPerson;
  if (told !== null) return told ? "answered" : "silent";
  return answer === null ? "no-evidence" : "open";
}
