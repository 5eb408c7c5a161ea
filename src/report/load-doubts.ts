import type { Warning } from "../core/index.js";
import type { NameOf } from "./label-text.js";
import { formatPlain } from "./number-format.js";

type Of<Code extends Warning["code"]> = Extract<Warning, { readonly code: Code }>;

/** The voltage came back early, late or never: what was seen, what it may mean, what to do. */
export function strayReleaseText(stray: Of<"stray-release">, nameOf: NameOf): string {
  const { onsetS, markedS, seenS, lasting } = stray;
  const name = nameOf(stray.load);
  const on = formatPlain(onsetS, "s");
  if (markedS === null) {
    return `No mark says when ${name}, switched on at ${on}, went off${seenS === null ? "" : `; the voltage came back at ${formatPlain(seenS, "s")}, and it is counted as on until then`}. Find out when it was switched off, and mark it.`;
  }
  const off = formatPlain(markedS, "s");
  if (seenS !== null && seenS < markedS) {
    const fell = `${name}, switched on at ${on}, fell off at ${formatPlain(seenS, "s")}, before it was marked off at ${off}`;
    return lasting
      ? `${fell}, and its later switchings show nothing. Did a breaker trip? Find the cause before anything is switched on again.`
      : `${fell}. Find out whether a breaker trips or the mark was late; its depth counts only the time for which it held.`;
  }
  const stayed = `${name} was marked off at ${off}, but the voltage stayed down ${seenS === null ? "to the end of the recording" : `until ${formatPlain(seenS, "s")}`}`;
  return `${stayed}. Find out whether it was left on or a switch or relay sticks; it is counted as on for so long.`;
}

/** Marks that all lie beside the dips: by how much, and what to look at. */
export function marksOffText({ load, laterS }: Of<"marks-off">, nameOf: NameOf): string {
  const seconds = formatPlain(Math.abs(laterS), "s", { digits: 2 });
  return `Dips lie about ${seconds} ${laterS > 0 ? "after" : "before"} all marks of ${nameOf(load)}, further than the marks are said to be known. Find out whether the marks are of another clock or another recording, or something else is switched in the same rhythm.`;
}

/** A current by a power of ten beside the acceptable one is rather the clamp's than the load's. */
const OTHER_RANGE = 5;

/** A load that draws less or more than it may. */
export function currentOutsideText(warning: Of<"current-outside-acceptable">, nameOf: NameOf): string {
  const { load, currentA, uA, limitA } = warning;
  const drawn = `${nameOf(load)} responded with ${formatPlain(currentA, "A", { digits: 2 })}, give or take ${formatPlain(2 * uA, "A", { digits: 1 })}`;
  const limit = formatPlain(limitA, "A", { digits: 2 });
  const range =
    Math.max(currentA / limitA, limitA / currentA) >= OTHER_RANGE
      ? " First see whether the current was read on another range than it was taken for."
      : "";
  return currentA < limitA
    ? `${drawn}, less than its lowest acceptable ${limit}. Find out whether a part of it is open.${range}`
    : `${drawn}, more than its highest acceptable ${limit}. Find out whether another load hangs on its switch, or it leaks.${range}`;
}

/** A source resistance that the profile's battery and path cannot have. */
export function resistanceContradictedText(warning: Of<"resistance-contradicted">): string {
  const { foundOhm, uFoundOhm, knownOhm, uKnownOhm } = warning;
  const told = (ohm: number, u: number): string =>
    `${formatPlain(ohm, "Ohm", { digits: 2 })}, give or take ${formatPlain(2 * u, "Ohm", { digits: 1 })}`;
  const cause =
    foundOhm > knownOhm
      ? "A worn or cold battery has more, and a clamp on another range or conductor shows it so"
      : "A clamp on another range shows it so";
  return `The source resistance found is ${told(foundOhm, uFoundOhm)}, but by the profile it is ${told(knownOhm, uKnownOhm)}. ${cause}. Find out which is right: the measured current, the rating of the reference load, or the profile; until then rely on no current and no resistance.`;
}
