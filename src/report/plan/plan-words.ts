import type { CheckPlan, NeedlePlan, Obstacle, PlannedItem, SwitchingPattern } from "../../core/index.js";
import { QUIET_S } from "../../core/index.js";
import { type NameOf, plainLabel } from "../label-text.js";
import { formatDuration, formatPercent, formatPlain, roundToUncertainty } from "../number-format.js";

/** What a plan says beside its figures. */
export interface PlanContext {
  readonly title: string;
  /** Name of the profile's file. */
  readonly profileSource: string;
  readonly softwareVersion: string;
  /** ISO 8601; passed in, so that the same input gives the same sheet. */
  readonly madeAt: string;
}

/** Names of the loads of a plan by id. */
export function planNames(plan: CheckPlan): NameOf {
  const names = new Map(plan.items.map(({ load }) => [load.id, plainLabel(load.name ?? load.id)]));
  return (id) => names.get(id) ?? plainLabel(id);
}

/** A pattern as seconds on/off, the way a second person reads it out: `5/3 4/2 5`. */
export function beatText(pattern: SwitchingPattern): string {
  return pattern.onS
    .map((onS, k) => (pattern.offS[k] === undefined ? `${onS}` : `${onS}/${pattern.offS[k]}`))
    .join(" ");
}

/** How to read a beat. */
export const BEAT_HELP =
  "Beat: seconds on/seconds off, as a second person reads them out; 5/3 4/2 5 is on for 5 s, off 3 s, on 4 s, off 2 s, on 5 s.";

/** How a person finds out whether a load has power. */
export function wayText({ shows }: PlannedItem): string {
  switch (shows) {
    case "needle":
      return "meter";
    case "seen":
      return "look";
    case "heard":
      return "listen";
  }
}

/** What to look or listen for, or how to switch. */
export function taskText(item: PlannedItem): string {
  const { load, needle } = item;
  const words = load.lookFor === undefined ? [] : [plainLabel(load.lookFor, 120)];
  if (needle === null) return words[0] ?? (item.shows === "heard" ? "is it heard?" : "is it seen?");
  if (needle.pattern === null) return [...words, "the meter cannot show it (see below)"].join("; ");
  return [...words, `beat ${beatText(needle.pattern)}`].join("; ");
}

/** Bus and switch of a load, the bus only where the plan has several; empty where nothing tells them. */
export function placeText(load: PlannedItem["load"], plan: CheckPlan): string {
  const severalBuses = new Set(plan.items.map((item) => item.load.bus)).size > 1;
  return [
    ...(load.bus === undefined || !severalBuses ? [] : [`bus ${plainLabel(load.bus)}`]),
    ...(load.switch === undefined ? [] : [`switch ${plainLabel(load.switch)}`]),
  ].join(", ");
}

/** Caution, time limit and what must come before, in short sentences. */
export function careText({ load }: PlannedItem, nameOf: NameOf): string {
  const parts = [
    ...(load.timeLimitS === undefined ? [] : [`On for ${load.timeLimitS} s in all at most.`]),
    ...(load.caution === undefined ? [] : [sentence(plainLabel(load.caution, 160))]),
    ...((load.after ?? []).length === 0 ? [] : [`After ${load.after!.map(nameOf).join(", ")}.`]),
  ];
  return parts.join(" ");
}

function sentence(text: string): string {
  return /[.!?]$/.test(text) ? text : `${text}.`;
}

/** The one sentence that a person takes away. */
export function planHeadline(plan: CheckPlan): string {
  const needles = plan.items.filter(({ needle }) => needle !== null);
  const blocked = needles.filter(({ needle }) => needle!.obstacle !== null).length;
  const others = plan.items.length - needles.length;
  const shown =
    needles.length === 0
      ? "No load needs the meter"
      : blocked === 0
        ? `The meter can show ${needles.length === 1 ? "the one load" : `all ${needles.length} loads`} that ${needles.length === 1 ? "needs" : "need"} it`
        : `The meter can show ${needles.length - blocked} of ${needles.length} loads that need it`;
  const own =
    others === 0 ? "" : `; ${others} ${others === 1 ? "shows" : "show"} by ${others === 1 ? "itself" : "themselves"}`;
  return `${shown}${own}. The check takes about ${formatDuration(plan.durationS)}.`;
}

/** Nominal dip with its expanded uncertainty, and the lowest acceptable one. */
export function expectedText({ expected }: NeedlePlan): string {
  const { nominal, lowestV } = expected;
  const parts: string[] = [];
  if (nominal !== null) {
    if (nominal.u > 0) {
      const { value, u } = roundToUncertainty(1000 * nominal.value, 2000 * nominal.u);
      parts.push(`${value} \u00b1 ${u} mV`);
    } else parts.push(formatPlain(nominal.value, "V", { digits: 2 }));
  }
  if (lowestV !== null) parts.push(`lowest acceptable ${formatPlain(lowestV, "V", { digits: 2 })}`);
  return parts.length === 0 ? "not known" : parts.join("; ");
}

export function detectableText({ minimumDetectableV }: NeedlePlan): string {
  return minimumDetectableV === null ? "not known" : formatPlain(minimumDetectableV, "V", { digits: 2 });
}

export function chanceText({ predictedPower }: NeedlePlan): string {
  if (predictedPower === null) return "not planned";
  return predictedPower > 0.995 ? "over 99.5 %" : formatPercent(predictedPower);
}

/** Why the meter cannot show a load, and what would make it showable. */
export function obstacleText(obstacle: Obstacle, nameOf: NameOf): string {
  switch (obstacle.code) {
    case "no-resistance":
      return "the source resistance is not known, so its dip cannot be foreseen; write resistance_mOhm of the battery into the profile, or give --resistance.";
    case "no-current":
      return "its current is not known; write rated or accept_A into the profile.";
    case "no-reading-noise":
      return "how much the readings jitter is not known; give a quiet recording with --recording, or --reading-noise, or the meter's smallest_division_V in the profile.";
    case "uncertain-resistance":
      return "the source resistance is too uncertain to vouch for any dip; measure it with a reference load first.";
    case "needle-friction":
      return `friction of the needle may hide a dip of ${formatPlain(obstacle.hiddenV, "V", { digits: 2 })}, as much as the load makes; use a logger or an electronic meter at the bus, or a clamp meter on its wire.`;
    case "sampled-too-slowly":
      return `readings every ${formatPlain(obstacle.intervalS, "s", { digits: 2 })} are too far apart; log at least one a second, better ten.`;
    case "display-too-coarse":
      return `one step of the display is ${formatPlain(obstacle.stepV, "V", { digits: 2 })}, coarser than the dip; use a logger or a meter with more digits, or a clamp meter on the load's wire.`;
    case "shares-switch":
      return `it shares its switch with ${obstacle.others.map(nameOf).join(", ")}, so the meter cannot tell them apart; open the other breakers if the manual allows, or use a clamp meter on its wire.`;
    case "too-small":
      return `its dip is too small for this meter: readings ${times(obstacle.quieterBy)} quieter would do. ${helpText(obstacle.quieterBy)}`;
    case "time-limit":
      return obstacle.neededS === null
        ? `its limit of ${obstacle.limitS} s leaves no room for three switchings that a hand can keep; use a clamp meter on its wire.`
        : `its limit of ${obstacle.limitS} s allows too few switchings: about ${obstacle.neededS} s on would be needed, or readings ${times(obstacle.quieterBy)} quieter. ${helpText(obstacle.quieterBy)}`;
  }
}

function times(factor: number): string {
  return `${Number(Math.max(1.05, factor).toPrecision(2))} times`;
}

/** Dearer help for dips that are further out of reach. */
function helpText(quieterBy: number): string {
  if (quieterBy < 1.4)
    return "Switch off other loads (a smaller base load wanders less), or read a second voltmeter at once.";
  if (quieterBy < 6) return "Use a logger at the bus instead of the panel meter, or a clamp meter on the load's wire.";
  return "Use a clamp meter on the load's wire.";
}

/** What the plan rests on, one sentence each. */
export function planBasis(plan: CheckPlan): readonly string[] {
  const { readings, source } = plan;
  const basis: string[] = [];
  if (readings !== null) basis.push(readingsText(readings));
  if (source !== null) {
    const from = { stated: "as stated", profile: "from the profile", history: "from the history" }[source.from];
    const { value, u } = roundToUncertainty(1000 * source.value, Math.max(2000 * source.u, 1e-6));
    basis.push(
      `The source resistance is taken as ${value} \u00b1 ${u} m\u03a9 (95 %), ${from}; dips that must be found are reckoned at its low end.`,
    );
  }
  if (plan.hiddenV > 0) {
    basis.push(
      `Friction of the needle may hide up to ${formatPlain(plan.hiddenV, "V", { digits: 2 })} of every dip; the plan reckons with the worst.`,
    );
  }
  basis.push(
    `Switchings follow the beat within ${plan.timeUncertaintyS} s (one standard uncertainty); the recording begins ${QUIET_S} s before the first one, and every load that the meter shows has ${QUIET_S} s of quiet before and after.`,
    `The stated chance is that of busdip analyze saying responded, with a false-alarm rate of ${formatPercent(plan.falseAlarmRate)} for the whole recording, if every planned load draws its lowest acceptable current. With more current it is higher.`,
    "The times on and off are unequal on purpose: a load that cycles by itself does not look like them.",
  );
  return basis;
}

function readingsText({ from, noise, ownNoiseV, intervalS }: NonNullable<CheckPlan["readings"]>): string {
  const scatterV = from === "recording" ? Math.hypot(noise.whiteV, noise.colouredV) : ownNoiseV;
  const size = `${formatPlain(scatterV, "V", { digits: 2 })}, read every ${formatPlain(intervalS, "s", { digits: 2 })}`;
  switch (from) {
    case "recording":
      return `Readings jitter by ${size}, as in the quiet recording.`;
    case "history":
      return `Readings are taken to jitter by ${size}, as in earlier recordings of this battery; their mixture of quick and slow noise is assumed.`;
    case "stated":
      return `Readings are taken to jitter by ${size}, as stated; the mixture of quick and slow noise is assumed.`;
    case "division":
      return `Readings are taken to jitter by ${size}: a tenth of the meter's smallest division, which is assumed. A quiet recording (--recording) tells it better.`;
  }
}
