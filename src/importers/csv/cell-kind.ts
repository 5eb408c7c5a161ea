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
  if (/^[\d\s.,;|:+\-eE/"]*[\s,;|"][\d\s.,;|:+\-eE/"]*$/.test(bare)) return "joined";
  if (/^[^ ]*\d[^ ]*[;|\t][-+]?\d[^ ]*$/.test(bare) || /"[;,|\t]"/.test(bare)) return "joined";
  return unitOf(bare) === null ? "text" : "unit";
}
