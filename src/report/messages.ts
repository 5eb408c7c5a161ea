import type {
  Assumption,
  Caution,
  MarkFault,
  RankedLoad,
  RankedLoads,
  Unknown,
  UnknownReason,
  Warning,
} from "../core/index.js";
import { type NameOf, namesOf } from "./label-text.js";
import { currentOutsideText, marksOffText, resistanceContradictedText, strayReleaseText } from "./load-doubts.js";
import { formatDuration, formatPercent, formatPlain } from "./number-format.js";

const asWritten: NameOf = namesOf([]);

/** One sentence saying what was assumed on the way to the result. */
export function assumptionText(assumption: Assumption, nameOf: NameOf = asWritten): string {
  switch (assumption.code) {
    case "lag-from-profile":
      return `The meter's lag is taken from the profile: ${formatPlain(assumption.lagS, "s", { digits: 2 })}.`;
    case "needle-swings":
      return `The readings show a needle that swings about ${formatPlain(assumption.frequencyHz, "Hz", { digits: 2 })} with a damping ratio of about ${formatPlain(assumption.dampingRatio, "1", { digits: 2 })}; the dips were fitted through it.`;
    case "lag-searched":
      return `The meter's lag was found from the recording itself: about ${formatPlain(assumption.lagS, "s", { digits: 2 })}.`;
    case "switching-from-marks":
      return `Switching times come from ${count(assumption.markCount, "mark")}, each taken as right within about ${formatPlain(assumption.jitterS, "s", { digits: 2 })}.`;
    case "switching-from-current":
      return `Switching times come from ${count(assumption.stepCount, "step")} of the measured current.`;
    case "switching-searched":
      return "Nobody said when the switching took place; the times were searched for in the voltage, and the false-alarm rate allows for that search.";
    case "load-by-elimination":
      return `Dips that no mark names are taken as ${nameOf(assumption.load)}, the only load of the profile they can be.`;
    case "load-by-current":
      return `Switchings of ${formatPlain(assumption.currentA, "A", { digits: 2 })} are taken as ${nameOf(assumption.load)}, the only load of the profile that may draw as much.`;
    case "load-not-told":
      return `${count(assumption.dipCount, "dip")} cannot be tied to a load, because nobody said which load was switched.`;
    case "load-ranked":
      return rankingText(nameOf(assumption.load), assumption.ranked, nameOf);
    case "mark-ignored":
      return `The mark at ${formatPlain(assumption.timeS, "s")}${assumption.load === null ? "" : ` for ${nameOf(assumption.load)}`} was left out: ${markFaultText(assumption.why)}.`;
    case "block-means":
      return `Readings were averaged in blocks of ${formatPlain(assumption.blockS, "s", { digits: 2 })}, which left ${count(assumption.readingCount, "block mean")} to work with.`;
    case "copies-left-out":
      return `Each value stands in the log about ${count(assumption.copies, "time")} in a row: the meter renews it more slowly than the logger asks. One reading of each was used, ${assumption.readingCount.toLocaleString("en")} in all.`;
    case "outliers-left-out":
      return `${count(assumption.outlierCount, "reading")} far from the neighbours ${assumption.outlierCount === 1 ? "was" : "were"} left out as outliers.`;
    case "friction-untold":
      return "Nothing says how far friction may hold the needle back (the friction of the needle, friction_V in the profile), so depths are taken as shown: a needle that sticks shows dips too shallow, and no load can be said to give no response.";
    case "display-step":
      return `The display moves in steps of ${formatPlain(assumption.quantumV, "V")}; that rounding is counted in the uncertainty.`;
    case "interval-likelihood":
      return `The display step of ${formatPlain(assumption.quantumV, "V")} is coarse against the noise of ${formatPlain(assumption.sigmaV, "V", { digits: 2 })}, so depths come from how often each step was shown, not from a plain mean.`;
    case "sharers-ranked":
      return sharersText(assumption.ranked, nameOf);
    case "settling-seen":
      return `${nameOf(assumption.load)} settles after switching on, with a time constant of ${formatPlain(assumption.timeConstantS, "s", { digits: 2 })}; its depth and current are the settled ones unless marked cold.`;
    case "reference-tolerance":
      return `The rated current of ${nameOf(assumption.load)} is taken to hold within \u00b1${formatPercent(assumption.fraction)}.`;
    case "current-uncertainty":
      return `Each step of the measured current is taken with a standard uncertainty of ${formatPlain(assumption.uA, "A", { digits: 2 })}.`;
    case "discharge-sign":
      return `${assumption.sign === 1 ? "Positive" : "Negative"} current in the file is taken as discharge.`;
    case "charge-steps-left-out":
      return `${count(assumption.stepCount, "step")} of charging current ${assumption.stepCount === 1 ? "was" : "were"} left out; only discharge is judged.`;
    case "path-resistance-unknown":
      return "The resistance of cable, contactor and ground is not in the profile, so the battery's own resistance cannot be told from what the meter sees.";
    case "path-resistance-from-profile":
      return `The resistance of cable, contactor and ground is taken from the profile: ${formatPlain(assumption.valueOhm, "Ohm")} with a standard uncertainty of ${formatPlain(assumption.uOhm, "Ohm", { digits: 2 })}.`;
    case "resistance-at":
      return `Resistance is stated ${formatPlain(assumption.atS, "s", { digits: 2 })} after the step; only values at equal times may be compared.`;
    case "settled-after-lag":
      return `The meter's lag hides the first moments of each dip; values are those from ${formatPlain(assumption.atS, "s", { digits: 2 })} after the step on.`;
    case "not-identifiable":
      return `${unknownText(assumption.what)}${assumption.load === null ? "" : ` of ${nameOf(assumption.load)}`} is not identifiable: ${unknownReasonText(assumption.why)}.`;
    case "meter-follows-at-once":
      return "The profile gives the voltmeter no lag_s, so it is taken to follow at once; a slow needle would pass for polarisation.";
    case "normalized-to":
      return `The normalised resistance is that at ${formatPlain(assumption.referenceC, "C", { digits: 3 })} and full charge: the battery was at ${formatPlain(assumption.temperatureC, "C", { digits: 3 })}, give or take ${formatPlain(assumption.uTemperatureC, "K", { digits: 2 })}, and is taken to have been charged to ${formatPercent(assumption.stateOfCharge)}; coefficients ${assumption.fittedCoefficients ? "of this battery's own flights" : "are general guides for its chemistry"}.`;
    case "bus-current":
      if (assumption.loadCount === 0) {
        return `The bus is taken to draw ${formatPlain(assumption.currentA, "A", { digits: 3 })}, give or take ${formatPlain(assumption.uA, "A", { digits: 2 })} (one standard uncertainty), as measured with the switched loads off; the profile names no loads, so none is counted, and each that is on shortens the endurance.`;
      }
      return `The bus is taken to draw ${formatPlain(assumption.currentA, "A", { digits: 3 })}, give or take ${formatPlain(assumption.uA, "A", { digits: 2 })} (one standard uncertainty), with every load of the profile on${assumption.baseMeasured ? ": their ratings on top of what it draws with them off" : "; what else is on the bus is not counted and shortens the endurance"}.`;
    case "endurance-model":
      return `Endurance counts ${formatPercent(assumption.derateLow)} to ${formatPercent(assumption.derateHigh)} of the rated capacity as usable, for age and temperature.`;
  }
}

/** A ranking names a load from this probability on. */
const LIKELY = 0.9;

function rankingText(dips: string, ranked: readonly RankedLoad[], nameOf: NameOf): string {
  const shown = ranked.slice(0, 3).map(({ load, probability }) => `${nameOf(load)} ${formatPercent(probability)}`);
  const rest = 1 - ranked.reduce((sum, { probability }) => sum + probability, 0);
  const list = `${shown.join(", ")}; a load that the profile does not name ${formatPercent(Math.max(rest, 0))}`;
  const [first] = ranked;
  return first !== undefined && first.probability >= LIKELY
    ? `By size and shape ${dips} is most likely ${nameOf(first.load)} (${list}). This is no verdict on that load: mark its switchings to have one.`
    : `Size and shape cannot tell which load ${dips} was (${list}). Mark the switchings to know.`;
}

function sharersText(ranked: readonly RankedLoads[], nameOf: NameOf): string {
  const named = ranked.map(({ loads, probability }) => `${listed(loads.map(nameOf))} ${formatPercent(probability)}`);
  const rest = 1 - ranked.reduce((sum, { probability }) => sum + probability, 0);
  const list = `${named.slice(0, 3).join("; ")}; something else ${formatPercent(Math.max(rest, 0))}`;
  const [first] = ranked;
  return first !== undefined && first.probability >= LIKELY
    ? `By size the dip of the shared switch is most likely that of ${listed(first.loads.map(nameOf))} alone (${list}). This is no verdict.`
    : `Size cannot tell which loads of the shared switch drew current (${list}).`;
}

/** One sentence or two saying what is doubtful and what to do about it. */
export function warningText(warning: Warning, nameOf: NameOf = asWritten): string {
  switch (warning.code) {
    case "gap":
      return `Readings are missing from ${formatPlain(warning.startS, "s")} to ${formatPlain(warning.endS, "s")}. Repeat any switching that fell into it.`;
    case "meter-at-end":
      return `Many readings stand at ${formatPlain(warning.atV, "V")} exactly, as if the meter or logger could not go on: dips are shown too shallow there. Use a wider range.`;
    case "bus-unpowered":
      return `For ${formatDuration(warning.totalS)}${warning.stretchCount === 1 ? "" : ` in ${warning.stretchCount} stretches`}, to ${formatPlain(warning.endS, "s")}, the bus was without power (below half of its usual voltage) or had just got it; those readings were left out. Repeat any switching that fell into them.`;
    case "readings-held":
      return `In ${warning.stretchCount === 1 ? "one stretch" : `${warning.stretchCount} stretches`}, up to ${formatDuration(warning.longestS)} long and ${formatDuration(warning.totalS)} in all, the readings repeat one exactly while those beside them scatter: the display or logger held it, and it was counted once. Repeat any switching that fell into them, and check hold and logger.`;
    case "gaps":
      return `Readings are missing in ${count(warning.gapCount, "place")}, ${formatDuration(warning.totalS)} in all. Repeat any switching that fell into them, and check the logger.`;
    case "noise-not-stationary":
      return `The noise changes by a factor of ${formatPlain(warning.ratio, "1", { digits: 2 })} within the recording, which the verdicts reckon with. Find what else is running on the bus, switch it off and record again.`;
    case "source-regulated":
      return `The bus stays near ${formatPlain(warning.meanV, "V")}, above the ${formatPlain(warning.limitV, "V")} of a battery alone: a charger, generator or ground supply is likely on line. Take it off and record on battery alone.`;
    case "quantized-below-digit":
      return `The dips are smaller than one step of the display (${formatPlain(warning.quantumV, "V")}). Use a meter that shows finer steps.`;
    case "few-readings":
      return `There are only ${count(warning.readingCount, "reading")}. Record for longer, or with a logger that reads more often.`;
    case "dips-disagree":
      return `The dips of ${nameOf(warning.load)} differ ${formatPlain(warning.ratio, "1", { digits: 2 })} times as much as the noise explains. Repeat with nothing else being switched, and look for a loose contact.`;
    case "dip-without-mark":
      return `The voltage dips at ${formatPlain(warning.onsetS, "s")} with no mark there. Add the missing mark, or find out what was switched.`;
    case "marks-off":
      return marksOffText(warning, nameOf);
    case "profile-contradicted":
      return `The dips of ${nameOf(warning.load)} do not have the shape that the profile's ${CONTRADICTED[warning.what]} would give them, and were not held to it. Find out what else was switched, or mend the profile.`;
    case "nothing-dips":
      return "No load in this recording made a dip, as if a ground supply, charger or generator held the bus. Take any such source off, and switch a load known to work beside the others.";
    case "shared-switch":
      return `${listed(warning.loads.map(nameOf))} are on one switch, so the dip is of all that draw current, and no verdict on one of them can be had. Switch them apart (by their breakers, where the manual allows it) and record again.`;
    case "current-outside-acceptable":
      return currentOutsideText(warning, nameOf);
    case "resistance-contradicted":
      return resistanceContradictedText(warning);
    case "stray-release":
      return strayReleaseText(warning, nameOf);
    case "voltage-near-limit":
      return `The bus fell to ${formatPlain(warning.lowestV, "V", { digits: 4 })}. Stop the check and recharge before the manual's minimum voltage is reached.`;
    case "polarization-in-depth":
      return `The battery was still sagging while ${nameOf(warning.load)} was on, so its depth holds part of that sag. Compare it only with dips of equal length.`;
    case "overlapping-loads":
      return `${listed(warning.loads.map(nameOf))} were on at the same time. Switch one load at a time and record again.`;
  }
}

const CONTRADICTED = { kind: "kind of load", lag: "lag of the meter", "kind-and-lag": "kind of load and lag" } as const;

/** A caution that stands beside every verdict. */
export function cautionText(caution: Caution): string {
  switch (caution) {
    case "advisory":
      return "Advisory only: this is not an approved means to determine airworthiness. The approved flight and maintenance manuals, local rules and the licensed person's judgement come first.";
    case "hot-probe":
      return "A heated probe burns skin and covers. Covers off, people clear, heat on for the shortest time and never beyond the manual's ground limit.";
    case "battery-falls":
      return "The battery falls while loads are on. Stop at the manual's minimum voltage.";
    case "current-not-heat":
      return "A response shows that current flows, not that the heater is hot enough.";
    case "ni-cd-temperature":
      return "Ni-Cd battery: keep to the manual's temperature limits, and wait where it asks for cooling.";
  }
}

/** The same caution in a few words, for a small screen. */
export function shortCautionText(caution: Caution): string {
  switch (caution) {
    case "advisory":
      return "Advisory only; the approved manuals and the licensed person decide.";
    case "hot-probe":
      return "Heated probes burn: covers off, people clear, shortest time.";
    case "battery-falls":
      return "Stop at the manual's minimum battery voltage.";
    case "current-not-heat":
      return "A response shows current, not enough heat.";
    case "ni-cd-temperature":
      return "Ni-Cd: keep to the manual's temperature limits.";
  }
}

/** Half a sentence: why a quantity is not identifiable, and what would make it so. */
export function unknownReasonText(reason: UnknownReason): string {
  switch (reason) {
    case "no-current-reference":
      return "no current was measured, no reference load is given and the source resistance is not known; any one of the three would do";
    case "reference-did-not-respond":
      return "the reference load did not clearly respond; switch it a few more times";
    case "load-did-not-respond":
      return "the load did not clearly respond";
    case "reference-too-weak":
      return "the reference load's dip is too uncertain to divide by; switch it more often or use a stronger one";
    case "no-current-step":
      return "the measured current does not step while the voltage does; record both while a load is switched";
    case "not-sampled-together":
      return "voltage and current were not read at the same moments; log both at once";
    case "sampled-too-slowly":
      return "the readings are too far apart for the time asked; log faster";
    case "source-is-regulated":
      return "the bus is held by a charger, generator or ground supply; record on battery alone";
    case "no-battery-data":
      return "the profile says nothing about the battery; add it";
    case "no-capacity":
      return "the profile gives no capacity_Ah; add it";
    case "no-chemistry":
      return "the profile gives no battery chemistry; add it";
    case "no-bus-current":
      return "the whole current of the bus is neither measured nor rated; rate every load or measure it";
    case "no-temperature":
      return "the battery's temperature was not given";
    case "no-switching":
      return "no switching was found";
    case "below-one-digit":
      return "it is smaller than one step of the display; use a finer meter";
    case "meter-at-end":
      return "the meter stood at an end of its range, so that the dips are cut off; use a wider range";
    case "marks-off":
      return "its dips do not lie at its marks; set the marks right, and judge again";
    case "path-unknown":
      return "the profile gives no path_resistance_mOhm; add it";
    case "below-path":
      return "the source resistance found is below that of the path alone; see what the doubts say of it";
    case "polarization-too-fast":
      return "the battery settles faster than the readings or the meter can follow; log faster, or take the lag of the needle out of the way";
    case "polarization-too-slow":
      return "the battery settles more slowly than the loads were on; leave one on for longer";
    case "polarization-too-faint":
      return "the settling of the battery is lost in the noise; switch a stronger load, or leave it on for longer";
    case "resistance-unknown":
      return "the battery's internal resistance itself is not known";
  }
}

/** The name of a quantity that may be missing, as a sentence begins with it. */
export function unknownText(what: Unknown): string {
  switch (what) {
    case "current":
      return "The current";
    case "resistance":
      return "The source resistance";
    case "internal-resistance":
      return "The battery's internal resistance";
    case "open-circuit":
      return "The open-circuit voltage";
    case "depth":
      return "The depth";
    case "endurance":
      return "The endurance";
    case "polarization":
      return "What part of the source resistance is polarisation";
    case "normalized":
      return "The normalised internal resistance";
  }
}

function markFaultText(fault: MarkFault): string {
  switch (fault) {
    case "outside-recording":
      return "it lies outside the recording";
    case "off-without-on":
      return "the load is turned off without having been turned on";
    case "on-without-off":
      return "the load is turned on again before any mark says that it went off";
    case "no-readings-near":
      return "there are no readings near it";
  }
}

/** `1 dip`, `3 dips`. */
export function count(number: number, noun: string): string {
  return `${number.toLocaleString("en")} ${noun}${number === 1 ? "" : "s"}`;
}

/** `A`, `A and B`, `A, B and C`. */
export function listed(names: readonly string[]): string {
  if (names.length < 2) return names.join("");
  return `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}
