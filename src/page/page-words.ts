import { LOG_OPTION_FLAGS, type LogOptionFlag } from "../importers/csv/log-options.js";

/** What may be said about one log; the gap between files needs more than one. */
export const LOG_FIELDS = LOG_OPTION_FLAGS.filter(({ key }) => key !== "fileGapS");

/** Names of fields that need more words than their option has. */
const FULLER: Partial<Record<LogOptionFlag["key"], string>> = {
  encoding: "Text encoding",
  delimiter: "Column separator",
  decimal: "Decimal sign",
  zone: "Time zone",
  intervalS: "Interval (s)",
  missing: "Words for no reading",
  currentZeroA: "Current zero (A)",
};

/** Keys of the profile that a clip's refusal names. */
const PROFILE_FIELDS = [["scale_rises", "Scale rises"]] as const;

/** `--voltage-column COLUMN` is named "Voltage column". */
export function fieldName({ key, flag }: LogOptionFlag): string {
  const words = flag.replace(/^--| .*$/g, "").replaceAll("-", " ");
  return FULLER[key] ?? words[0]!.toUpperCase() + words.slice(1);
}

/** Whether a sentence asks for what a field says. */
export function asksFor(sentence: string, { flag }: LogOptionFlag): boolean {
  return wordPattern(flag).test(sentence);
}

/**
 * A sentence in the words of the page: options of the command line by the names of its fields, and without ways out that
 * it has not, nor the hint which option would overrule.
 */
export function inPageWords(sentence: string): string {
  const named = LOG_FIELDS.reduce(
    (text, one) => text.replaceAll(wordPattern(one.flag), `"${fieldName(one)}"`),
    sentence.replaceAll(/ \(--[^)]*\)/g, ""),
  );
  return PROFILE_FIELDS.reduce(
    (text, [key, name]) => text.replaceAll(key, `"${name}"`),
    named.replace(/, or [^,;]*--[a-z][^,;]*$/, ""),
  );
}

function wordPattern(flag: string): RegExp {
  const [name, placeholder] = flag.split(" ");
  return new RegExp(`${name}(?: ${placeholder})?(?![\\w-])`, "g");
}
