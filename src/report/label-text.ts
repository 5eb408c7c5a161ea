/** Writes a load's id as the name people gave it. */
export type NameOf = (id: string) => string;

const RIGHT_TO_LEFT = /[\p{Script=Hebrew}\p{Script=Arabic}\p{Script=Syriac}\p{Script=Thaana}\p{Script=Nko}]/u;
const CONTROLS = /[\p{Cc}\p{Zl}\p{Zp}\u202a-\u202e\u2066-\u2069\ufeff]+/gu;
const LONGEST_NAME = 40;

/**
 * A label from a file as one harmless line: control characters, line breaks and direction overrides become spaces, and
 * what is longer than `longest` signs is cut with an ellipsis. A right-to-left label is set apart by isolating marks,
 * so that it does not turn the text around it.
 */
export function plainLabel(text: string, longest = LONGEST_NAME): string {
  const line = text.replace(CONTROLS, " ").replace(/\s+/gu, " ").trim();
  const signs = [...new Intl.Segmenter("en", { granularity: "grapheme" }).segment(line)];
  if (signs.length <= longest) return isolated(line);
  const kept = signs.slice(0, longest - 1).map((sign) => sign.segment);
  return isolated(`${kept.join("").trimEnd()}\u2026`);
}

function isolated(line: string): string {
  return RIGHT_TO_LEFT.test(line) ? `\u2068${line}\u2069` : line;
}

/** Names of the loads by id; an unknown or unnamed id stands for itself, one that nobody named is told in words. */
export function namesOf(loads: readonly { readonly id: string; readonly name: string }[]): NameOf {
  const names = new Map(loads.map(({ id, name }) => [id, (name === id ? untold(id) : plainLabel(name)) || untold(id)]));
  return (id) => names.get(id) ?? untold(id);
}

/** The ids that the judgement gives to loads that no profile names. */
function untold(id: string): string {
  const searched = /^switched-load(?:-(\d+))?$/.exec(id);
  if (searched !== null) return `Switched load${searched[1] === undefined ? "" : ` ${searched[1]}`}`;
  const size = /^load-of-([\d.]+)-A(?:-(\d+))?$/.exec(id);
  if (size === null) return plainLabel(id);
  return `Load of ${size[1]} A${size[2] === undefined ? "" : `, ${size[2]}`}`;
}

const ASCII_TWINS: Record<string, string> = {
  "\u00b1": "+/-",
  "\u03a9": "Ohm",
  "\u2212": "-",
  "\u2026": "...",
  "\u00b7": "-",
};

/** The text in plain ASCII; a sign with no twin becomes `?`. */
export function asciiText(text: string): string {
  return text.replace(/[^\x20-\x7e\n]/gu, (sign) => ASCII_TWINS[sign] ?? "?");
}
