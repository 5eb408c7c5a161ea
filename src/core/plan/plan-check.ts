import type { BusProfile, LoadProfile } from "../profile.js";
import type { Uncertain } from "../quantity/quantity.js";
import type { SwitchingMark } from "../series/recording.js";
import { normalQuantile } from "../statistics/distribution.js";
import { squared } from "../statistics/portable-power.js";
import { checkOrder } from "./check-order.js";
import type { CheckPlan, NeedlePlan, Obstacle, PlannedItem } from "./check-plan.js";
import { type ExpectedDip, expectedDip, plannedSource, restedBusV } from "./expected-dip.js";
import type { PlannedReadings } from "./planned-readings.js";
import { QUIET_S } from "./planned-stretch.js";
import { powersTogether } from "./powers-together.js";
import { type Rhythm, Rhythms, SWITCHING_COUNTS } from "./rhythm.js";
import { onTimesOf } from "./switching-pattern.js";

/** What the plan may reckon with beside the profile. */
export interface PlanConditions {
  /** What the readings will be like; null where nothing tells it. */
  readonly readings: PlannedReadings | null;
  /** Source resistance, ohms; wins over the profile's. */
  readonly source?: (Uncertain & { readonly from: "stated" | "history" }) | null;
  readonly falseAlarmRate?: number;
  readonly power?: number;
  readonly timeUncertaintyS?: number;
}

/** Seconds for a look or a listen. Common practice, no source. */
const LOOK_S = 15;
/** Seconds of readings that one more load of the check adds, at the least. */
const OTHER_LOAD_S = 45;
/** Slowest readings in which a pattern of a few seconds shows. */
const SLOWEST_S = 1;

/**
 * Plans the check of the whole bus: for each load that only the meter shows the switchings that reach the wanted power,
 * with the power that `analyze` will really have, or why the meter cannot show it.
 */
export function planCheck(profile: BusProfile, conditions: PlanConditions): CheckPlan {
  const falseAlarmRate = conditions.falseAlarmRate ?? 0.01;
  const power = conditions.power ?? 0.95;
  const timeUncertaintyS = conditions.timeUncertaintyS ?? 0.2;
  const { readings } = conditions;
  const source = plannedSource(profile, conditions.source ?? null);
  const busV = restedBusV(profile);
  const loads = checkOrder(profile.loads);
  const needles = loads.filter(isNeedle);
  const rhythms =
    readings === null
      ? null
      : new Rhythms(readings, profile.meter, timeUncertaintyS, OTHER_LOAD_S * Math.max(0, needles.length - 1));
  // As the detector reckons: the needle may stop short on the way down and on the way up.
  const hiddenV = 2 * (profile.meter?.frictionV ?? 0);
  const draftAll = (sharers: number) => {
    const wanted = { power, share: falseAlarmRate / Math.max(1, sharers) };
    return new Map(
      needles.map((load): [string, Draft] => {
        const expected = expectedDip(load, source, busV);
        const others = loads.filter((one) => one !== load && one.switch !== undefined && one.switch === load.switch);
        return [load.id, { expected, ...draftFor(load, expected, { readings, rhythms, others, wanted, hiddenV }) }];
      }),
    );
  };
  let drafts = draftAll(needles.length);
  // Loads that are left out take no share of the false-alarm rate.
  const left = [...drafts.values()].filter(({ rhythm }) => rhythm !== null).length;
  if (left < needles.length && left > 0) drafts = draftAll(left);
  const planned = needles.filter(({ id }) => drafts.get(id)!.rhythm !== null);
  const powers = powersTogether(
    planned.map(({ id }) => drafts.get(id)!.detected!),
    falseAlarmRate,
  );

  const needleOf = (load: LoadProfile) => {
    const draft = drafts.get(load.id);
    return draft === undefined ? null : needlePlan(draft, powers[planned.indexOf(load)] ?? null);
  };
  return {
    falseAlarmRate,
    power,
    timeUncertaintyS,
    readings,
    source,
    busV,
    hiddenV,
    ...laidOut(loads, needleOf),
  };
}

/** The loads one after the other on the clock of the recording, with the planned switchings. */
function laidOut(
  loads: readonly LoadProfile[],
  needleOf: (load: LoadProfile) => NeedlePlan | null,
): Pick<CheckPlan, "items" | "durationS" | "marks"> {
  const items: PlannedItem[] = [];
  const marks: SwitchingMark[] = [];
  let timeS = QUIET_S;
  for (const load of loads) {
    const needle = needleOf(load);
    const durationS = needle === null ? LOOK_S : (needle.pattern?.lengthS ?? 0);
    items.push({ load, shows: load.shows ?? "needle", startS: timeS, durationS, needle });
    if (needle?.pattern != null) {
      for (const { onsetS, releaseS } of onTimesOf(needle.pattern, timeS)) {
        marks.push({ timeS: onsetS, load: load.id, action: "on" }, { timeS: releaseS, load: load.id, action: "off" });
      }
    }
    if (durationS > 0) timeS += durationS + (needle === null ? 0 : QUIET_S);
  }
  return { items, durationS: timeS, marks };
}

function isNeedle(load: LoadProfile): boolean {
  return (load.shows ?? "needle") === "needle";
}

interface Draft {
  readonly expected: ExpectedDip;
  readonly rhythm: Rhythm | null;
  readonly minimumDetectableV: number | null;
  /** Chance to be found at a false-alarm rate. */
  readonly detected: ((falseAlarmRate: number) => number) | null;
  readonly obstacle: Obstacle | null;
}

interface DraftContext {
  readonly readings: PlannedReadings | null;
  readonly rhythms: Rhythms | null;
  readonly others: readonly LoadProfile[];
  readonly wanted: { readonly power: number; readonly share: number };
  /** Depth that friction may hide, volts. */
  readonly hiddenV: number;
}

function draftFor(load: LoadProfile, expected: ExpectedDip, context: DraftContext): Omit<Draft, "expected"> {
  const blocked = (obstacle: Obstacle) => ({ rhythm: null, minimumDetectableV: null, detected: null, obstacle });
  const { readings, rhythms, others, hiddenV } = context;
  if (others.length > 0) return blocked({ code: "shares-switch", others: others.map(({ id }) => id) });
  if (readings === null || rhythms === null) return blocked({ code: "no-reading-noise" });
  if (expected.plannedV === null) {
    if (expected.nominal !== null) return blocked({ code: "uncertain-resistance" });
    const unknownCurrent = load.rated === undefined && load.acceptA === undefined;
    return blocked({ code: unknownCurrent ? "no-current" : "no-resistance" });
  }
  if (!(expected.plannedV > 0)) return blocked({ code: "uncertain-resistance" });
  if (readings.intervalS > SLOWEST_S) return blocked({ code: "sampled-too-slowly", intervalS: readings.intervalS });
  const stepV = readings.displayStepV;
  if (stepV !== null && readings.ownNoiseV < 0.5 * stepV && expected.plannedV < 2 * stepV) {
    return blocked({ code: "display-too-coarse", stepV });
  }
  const shownV = expected.plannedV - hiddenV;
  if (!(shownV > 0)) return blocked({ code: "needle-friction", hiddenV });
  const draft = bestRhythm(load, shownV, rhythms, context.wanted);
  const { minimumDetectableV } = draft;
  return { ...draft, minimumDetectableV: minimumDetectableV === null ? null : minimumDetectableV + hiddenV };
}

const MOST_SWITCHINGS = SWITCHING_COUNTS[SWITCHING_COUNTS.length - 1];
/** Chance below which switching is not worth the battery: the load is left out. */
const WORTH_A_TRY = 0.5;
/** Share of the usual depth over uncertainty at the wanted power below which no rhythm reaches it. */
const HOPEFUL = 0.9;

/** The fewest switchings, in the best rhythm, that reach the wanted power within the load's time limit. */
function bestRhythm(
  load: LoadProfile,
  depthV: number,
  rhythms: Rhythms,
  wanted: DraftContext["wanted"],
): Omit<Draft, "expected"> {
  const limitS = load.timeLimitS ?? null;
  const rough = (switchingCount: number) =>
    depthV / rhythms.roughUncertaintyV(load.kind, switchingCount, rhythms.bestCadenceS(load.kind));
  const usual = normalQuantile(wanted.power) - normalQuantile(wanted.share);
  const hopeful = SWITCHING_COUNTS.filter((count) => count === MOST_SWITCHINGS || rough(count) > HOPEFUL * usual);
  const nearest =
    nearestRhythm(load, depthV, rhythms, wanted, hopeful) ??
    nearestRhythm(load, depthV, rhythms, wanted, SWITCHING_COUNTS);
  if (nearest === null) {
    return {
      rhythm: null,
      minimumDetectableV: null,
      detected: null,
      obstacle: { code: "time-limit", limitS: limitS!, neededS: null, quieterBy: 1 },
    };
  }
  const { rhythm, power } = nearest;
  const minimumDetectableV = rhythm.detection.minimumDetectableV(wanted.share, wanted.power);
  const quieterBy = minimumDetectableV / depthV;
  const short = power < wanted.power;
  const limited = limitS !== null && rhythm.pattern.onS.length < MOST_SWITCHINGS;
  return {
    rhythm: power < WORTH_A_TRY ? null : rhythm,
    minimumDetectableV,
    detected: (falseAlarmRate) => rhythm.detection.power(depthV, falseAlarmRate),
    obstacle: !short
      ? null
      : limited
        ? { code: "time-limit", limitS, neededS: Math.ceil(rhythm.pattern.totalOnS * squared(quieterBy)), quieterBy }
        : { code: "too-small", quieterBy },
  };
}

/** The first of the counts that reaches the wanted power, else the one that comes nearest; null where none has room. */
function nearestRhythm(
  load: LoadProfile,
  depthV: number,
  rhythms: Rhythms,
  wanted: DraftContext["wanted"],
  counts: readonly number[],
): { readonly rhythm: Rhythm; readonly power: number } | null {
  const limitS = load.timeLimitS ?? null;
  let nearest: { readonly rhythm: Rhythm; readonly power: number } | null = null;
  for (const switchingCount of counts) {
    // Shorter times on tell less: only the longest that the limit allows is worth a look.
    let made: Rhythm | null = null;
    for (const cadenceS of rhythms.cadencesFor(load.kind, limitS)) {
      made ??= rhythms.rhythm(load.kind, switchingCount, cadenceS, limitS);
    }
    if (made === null) continue;
    const power = made.detection.power(depthV, wanted.share);
    if (nearest === null || power > nearest.power) nearest = { rhythm: made, power };
    if (nearest.power >= wanted.power) break;
  }
  return nearest;
}

function needlePlan(draft: Draft, predictedPower: number | null): NeedlePlan {
  return {
    expected: draft.expected,
    minimumDetectableV: draft.minimumDetectableV,
    pattern: draft.rhythm?.pattern ?? null,
    predictedPower,
    obstacle: draft.obstacle,
  };
}
