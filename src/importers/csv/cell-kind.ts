import { type DecimalSign, isMissing, isNotANumber, readNumber } from "./number-cell.js";
import { readStamp } from "./timestamp.js";
import { unitOf } from "./unit.js";

/** What a cell looks like on its own; `joined` is numbers run together by a delimiter other than the one assumed. */
export type CellKind = "empty" | "number" | "date-time" | "date" | "clock" | "missing" | "unit" | "joined" | "text";

const NO_WORDS: ReadonlySet<string> = new Set();

/** What the cell is, for the decimal sign and the further words of "no reading" in force. */
export function cellKind(
  text: string,
  decimal: DecimalSign,
  missing: ReadonlySet<string> = NO_WORDS,
  grouped = false,
): CellKind {
  const bare = text.trim();
  if (bare === "") return "empty";
  // Fourteen digits are a date and time without separators; no epoch unit has that many in this century.
  const digitStamp = /^(19|20)\d{12}([.,]\d+)?$/.test(bare);
  if (!digitStamp && readNumber(bare, decimal, grouped) !== null) return "number";
  const stamp = readStamp(bare);
  if (stamp !== null) {
    if (stamp.date === null) return "clock";
    return stamp.time === null ? "date" : "date-time";
  }
  if (isMissing(bare, missing) || isNotANumber(bare)) return "missing";
  if (/^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}\b/.test(bare)) return "text";
  // Each test goes through the cell once: a single one for both would take the square of its length.
  if (/^[\d\s.,;|:+\-eE/"]*$/.test(bare) && /[\s,;|"]/.test(bare)) return "joined";
  // "AM,27.3": the half of a day that a space parted from its clock, with the next column.
  if (/"[;,|\t]"/.test(bare) || partedDigits(bare) || /^\p{L}{1,4},[-+]?\d/u.test(bare)) return "joined";
  return unitOf(bare) === null ? "text" : "unit";
}

/** Whether a digit is followed, at some distance but without a space, by a delimiter with a number behind it. */
function partedDigits(bare: string): boolean {
  const first = bare.search(/\d/);
  return first >= 0 && !bare.includes(" ") && /[;|\t][-+]?\d/.test(bare.slice(first));
}
