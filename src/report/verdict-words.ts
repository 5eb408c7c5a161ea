import type { Analysis, LoadAnswer, Verdict, WholeBus } from "../core/index.js";
import { type NameOf, namesOf, plainLabel } from "./label-text.js";
import { count, listed } from "./messages.js";
import { formatPlain, formatQuantity } from "./number-format.js";

/** Beyond this many further switchings a finer meter is the better advice. Common practice, no source. */
const MOST_SWITCHINGS = 60;
/** Beat advised where the recording shows none. Common practice, no source. */
const USUAL_BEAT_S = 5;

/** The answer in one or two sentences, worst first. */
export function headline(analysis: Analysis): string {
  const nameOf = namesOf(analysis.loads);
  if (analysis.loads.length === 0) {
    const dips = analysis.dips.length;
    return dips === 0
      ? "No voltage dip was found, and no loads were named."
      : `${count(dips, "voltage dip")} found; no loads were named, so none is judged.`;
  }
  const unswitched = analysis.loads.filter(isUnswitched);
  const switched = analysis.loads.filter((load) => !isUnswitched(load) && load.because !== "shows-itself");
  const of = (verdict: Verdict) => switched.filter((load) => load.verdict === verdict).map((load) => nameOf(load.id));
  const parts: string[] = [];
  const silent = of("no response");
  const open = of("undecided");
  const answered = of("responded");
  if (silent.length > 0) parts.push(`No response from ${listed(silent)}.`);
  if (open.length > 0) parts.push(`Undecided: ${listed(open)}.`);
  if (answered.length > 0) {
    parts.push(answered.length === analysis.loads.length ? everyLoad(answered) : `${listed(answered)} responded.`);
  }
  if (unswitched.length > 0) parts.push(`No switching seen of ${listed(unswitched.map((load) => nameOf(load.id)))}.`);
  if (parts.length === 0) return "No load that needs the meter was switched; the others are seen or heard.";
  return parts.join(" ");
}

/** From which depth on which switchings would be found, where their times were searched for; null where they were known. */
export function searchedLimitText({ detection }: Analysis): string | null {
  const { limitsOf, minimumDetectableDepthV: least } = detection;
  if (limitsOf === null || least === null) return null;
  const { switchingCount, onS, offS } = limitsOf;
  const seconds = (value: number) => formatPlain(value, "s", { digits: 2 });
  const apart = switchingCount > 1 ? `, ${seconds(offS)} apart,` : "";
  return `${count(switchingCount, "switching")} of ${seconds(onS)}${apart} would be found from dips of ${formatPlain(least, "V", { digits: 2 })} on`;
}

/** One sentence saying why a load has its verdict. */
export function verdictReasonText(load: LoadAnswer): string {
  const expected = load.expectedDepthV === null ? null : formatPlain(load.expectedDepthV, "V", { digits: 2 });
  const least = load.minimumDetectableDepthV;
  const detectable = least === null ? null : formatPlain(least, "V", { digits: 2 });
  switch (load.because) {
    case "above-critical":
      if (load.criticalDepthV === null) return "The dip is deeper than noise alone would make it.";
      return load.depth !== null && load.depth.value < load.criticalDepthV
        ? `Its dips together look as noise alone would seldom look; their mean depth only just reaches the critical value of ${formatPlain(load.criticalDepthV, "V", { digits: 2 })}.`
        : `The dip is deeper than the critical value of ${formatPlain(load.criticalDepthV, "V", { digits: 2 })}, which noise alone would seldom pass.`;
    case "excludes-acceptable":
      return `This recording would have shown the dip of the lowest acceptable current${expected === null ? "" : ` (${expected})`}, and shows none as deep.`;
    case "too-noisy":
      return `The recording is too noisy for this load: ${detectable === null ? "its dip would be missed too often" : `only dips from ${detectable} on would be found`}${expected === null ? "." : `, and its lowest acceptable current makes ${expected}.`}`;
    case "no-expected-depth":
      return "No clear dip, and nothing says how deep it should be: the lowest acceptable current or the source resistance is not known.";
    case "between":
      return `The dip is neither clearly there nor clearly smaller than the lowest acceptable current makes it${expected === null ? "" : ` (${expected})`}.`;
    case "wrong-direction":
      return "The voltage rises when this load is marked on.";
    case "dips-disagree":
      return "Its dips differ by more than the noise explains, so their mean stands for none of them.";
    case "not-as-marked":
      return "Its dips did not end when marks say that it was switched off, so they are not those that were marked.";
    case "marks-off":
      return "The voltage dips in the rhythm of its marks, but further from them than they are said to be known, so nothing says that the dips are its own.";
    case "dips-beside-marks":
      return "Dips as deep as this load's stand beside its marks, so the marks may be late or from another clock, or something else makes dips of its own.";
    case "one-step":
      return "No mark names its few dips, and they may as well be steps of the voltage, which other things make that are switched once and stay so.";
    case "maybe-wander":
      return "No mark names its dips, and they may as well be a level that wandered there for a while, more than in the rest of the recording.";
    case "dips-unfit":
      return "Dips were found, but not as deep as its acceptable current makes them, or deeper, and no mark says that they are its own.";
    case "rhythm-goes-on":
      return "The voltage dips on in the same rhythm where it was not switched, so something that cycles by itself may have made these dips.";
    case "source-regulated":
      return "The bus is held by a charger, generator or ground supply, which hides the dip.";
    case "never-switched":
      return "No switching of it was seen in this recording.";
    case "shows-itself":
      return "It is seen or heard, and was not switched in this recording.";
    case "load-not-told":
      return "Dips were found, but nothing tells which load made them.";
    case "display-too-coarse":
      return "The steps of the display, or the friction of the needle, can hide the dip to be seen.";
    case "meter-at-end":
      return "The meter stood at an end of its range for part of the recording, where it shows no dip or not all of it.";
    case "source-not-shown":
      return "No load made a dip and the level stood still, so nothing shows that the battery alone feeds the bus: a supply that holds it hides every load.";
    case "movement-doubtful":
      return "How large a movement of the readings is cannot be told well enough: what moved may not have been the voltage, as where a needle is seen more from one side, or its dial is shaded, while the switch is worked.";
    case "friction-untold":
      return "No dip is shown, but nothing says how far friction holds this needle back, and a needle that sticks hides dips.";
  }
}

/** What to do next, the most pressing first; each a full sentence. What a ticked run sheet accounts for is not asked again. */
export function nextSteps(analysis: Analysis, wholeBus?: WholeBus): readonly string[] {
  const nameOf = namesOf(analysis.loads);
  const steps = [
    ...analysis.loads.filter((load) => load.verdict === "no response").map((load) => checkStep(load, nameOf)),
    ...(wholeBus?.items ?? []).flatMap((item) => personStep(item)),
    ...enduranceStep(analysis),
    ...undecidedSteps(analysis, nameOf, wholeBus),
  ];
  if (steps.length > 0) return steps;
  if (analysis.loads.length === 0) {
    return ["Give a profile that names the loads, and marks that say when each was switched, to get verdicts."];
  }
  return ["Nothing more to switch."];
}

function isUnswitched(load: LoadAnswer): boolean {
  return load.verdict === "undecided" && load.because === "never-switched";
}

function checkStep(load: LoadAnswer, nameOf: NameOf): string {
  return `${nameOf(load.id)}: have switch, breaker, wiring and element checked as the approved maintenance manual says; do not count on it until then.`;
}

/** What follows from what a person looked for, beyond what the meter says. */
function personStep({ name, answer, standing }: WholeBus["items"][number]): string[] {
  if (standing === "contradiction") {
    return [
      `${plainLabel(name)}: meter and person contradict each other; repeat both, and do not count on it until then.`,
    ];
  }
  if (standing !== "silent" || answer?.verdict === "no response") return [];
  return [
    `${plainLabel(name)}: looked for and not found; have it checked as the approved maintenance manual says; do not count on it until then.`,
  ];
}

function enduranceStep(analysis: Analysis): string[] {
  const { endurance, requiredEnduranceMin: required } = analysis.battery;
  if (endurance === null || required === null || endurance.low >= required) return [];
  const asked = formatPlain(required, "min", { digits: 2 });
  const found = formatQuantity(endurance);
  return endurance.high < required
    ? [`Battery: ${found} falls short of the required ${asked}; have its capacity checked as the manual says.`]
    : [`Battery: ${found} may fall short of the required ${asked}; have its capacity checked as the manual says.`];
}

function undecidedSteps(analysis: Analysis, nameOf: NameOf, wholeBus: WholeBus | undefined): string[] {
  const isTicked = ({ id }: LoadAnswer) =>
    wholeBus?.items.some((item) => item.id === id && item.tick !== null) === true;
  const open = analysis.loads.filter(
    (load) =>
      load.verdict === "undecided" && !((isUnswitched(load) || load.because === "shows-itself") && isTicked(load)),
  );
  const regulated = open.filter((load) => load.because === "source-regulated");
  const wired = analysis.warnings.flatMap((one) => (one.code === "shared-switch" ? [one.loads] : []));
  const isWired = (load: LoadAnswer) => wired.some((ids) => ids.includes(load.id));
  const notTold = open.filter((load) => load.because === "load-not-told" && !isWired(load));
  const steps: string[] = [];
  if (regulated.length > 0) steps.push("Take charger, generator and ground supply off and record on battery alone.");
  if (notTold.length > 0) {
    steps.push(
      `Say when ${listed(notTold.map((load) => nameOf(load.id)))} ${notTold.length === 1 ? "was" : "were"} switched (a marks file), and judge again.`,
    );
  }
  for (const ids of wired) {
    steps.push(
      `${listed(ids.map(nameOf))} are on one switch: switch them apart, by their breakers where the manual allows it.`,
    );
  }
  for (const load of open) {
    if (regulated.includes(load) || notTold.includes(load) || isUnswitched(load)) continue;
    if (load.because === "load-not-told" || load.because === "shows-itself") continue;
    steps.push(`${nameOf(load.id)}: ${undecidedStep(analysis, load)}`);
  }
  const plain = open.filter((load) => load.because === "shows-itself").map((load) => nameOf(load.id));
  const account =
    plain.length === 0
      ? []
      : [
          `${listed(plain)} ${plain.length === 1 ? "is" : "are"} seen or heard: account for ${plain.length === 1 ? "it" : "them"} on the run sheet.`,
        ];
  return [...steps, ...unswitchedStep(open.filter(isUnswitched), nameOf), ...account];
}

function unswitchedStep(unswitched: readonly LoadAnswer[], nameOf: NameOf): string[] {
  if (unswitched.length === 0) return [];
  const names = listed(unswitched.map((load) => nameOf(load.id)));
  const each = unswitched.length === 1 ? "" : " each";
  return [
    `To judge ${names}: switch${each === "" ? " it" : each} three times, ${USUAL_BEAT_S} s on, ${USUAL_BEAT_S} s off, and record again; the plan says whether this meter can show ${unswitched.length === 1 ? "it" : "them"}.`,
  ];
}

function undecidedStep(analysis: Analysis, load: LoadAnswer): string {
  const strays = analysis.warnings.flatMap((one) =>
    one.code === "stray-release" && one.load === load.id ? [one] : [],
  );
  if (strays.length > 0 && (load.because === "not-as-marked" || load.because === "dips-disagree")) {
    if (strays.every(({ markedS }) => markedS === null)) return "mark when it went off, and judge again.";
    return "find out why it did not follow its switch, as the approved maintenance manual says, before it is switched on again; then repeat all its switchings.";
  }
  const more = load.moreSwitchings;
  if (more !== null && more <= MOST_SWITCHINGS) {
    const seconds = formatPlain(beatS(analysis, load.id), "s", { digits: 1 });
    const beat = `${seconds} on, ${seconds} off`;
    return `switch it ${count(more, "more time")}, ${beat}, and judge all of them together.`;
  }
  switch (load.because) {
    case "no-expected-depth":
      return "give accept_A in the profile, and a reference load or the source resistance, so that a missing dip can be judged.";
    case "wrong-direction":
      return "check whether on and off are exchanged in the marks, or another load was switched at that moment; then repeat it alone.";
    case "dips-disagree":
      return "repeat it with nothing else being switched, and look for a loose contact.";
    case "marks-off":
      return "check its marks against the recording's clock; move them, or say how well their times are known, and judge again.";
    case "dips-beside-marks":
      return "check the marks against the log's clock, and judge again.";
    case "display-too-coarse":
      return "use a meter that shows steps of 10 mV or finer and has no needle that sticks.";
    case "meter-at-end":
      return "use a range of the meter or logger that reaches beyond the voltage of the bus, and record again.";
    case "one-step":
      return "switch it several times, and judge all of them together.";
    case "maybe-wander":
      return "mark when it is switched, in a calm stretch, and judge again.";
    case "dips-unfit":
      return "mark when it is switched, and judge again; find out what else was switched.";
    case "rhythm-goes-on":
      return "find what else cycles on the bus and switch it off, or switch this load at uneven times, and record again.";
    case "movement-doubtful":
      return "film it again with the phone and the light on the dial at rest, on a stand or held against something fixed, and have somebody else work the switch.";
    case "source-not-shown":
      return "make sure that no ground supply, charger or generator is on the bus; then record it again together with a load known to work.";
    case "friction-untold":
      // Common practice, no source.
      return "with a load just switched, tap the glass and note by how many volts the needle jumps; give that as the friction of the needle (friction_V in the profile; 0 for none), and judge again.";
    default:
      return `more switching alone will not settle it${more === null ? "" : ` (${more.toLocaleString("en")} would be needed)`}; use a steadier or finer meter, or measure its current.`;
  }
}

/** Typical length of this load's dips, or of any, rounded to whole seconds; the usual beat where there are none. */
function beatS(analysis: Analysis, load: string): number {
  const own = analysis.dips.filter((dip) => dip.load === load);
  const durationsS = (own.length > 0 ? own : analysis.dips).map((dip) => dip.durationS).sort((a, b) => a - b);
  const middleS = durationsS[Math.floor(durationsS.length / 2)];
  return middleS === undefined ? USUAL_BEAT_S : Math.min(30, Math.max(2, Math.round(middleS)));
}

function everyLoad(answered: readonly string[]): string {
  if (answered.length === 1) return `${answered[0]} responded.`;
  return answered.length === 2
    ? `Both loads responded: ${listed(answered)}.`
    : `All ${answered.length} loads responded.`;
}
