/** A fault that a program made of an input: what no input may bring about. */
export class Find extends Error {}

const CONTROLS = /[\p{Cc}\p{Zl}\p{Zp}]/u;

/** The kind of answer, with what the person's file said taken out of it, so that new kinds can be told from old. */
export function kindOfSentence(sentence: string): string {
  return sentence
    .replace(/'[^']*'/g, "''")
    .replace(/\d+/g, "0")
    .slice(0, 160);
}

/**
 * Holds a refusal against the rule of refusals: one sentence with what and how to mend it, fit for a terminal.
 *
 * @throws Find where it is none.
 */
export function checkSentence(sentence: string): string {
  const shown = JSON.stringify(sentence.slice(0, 400));
  if (CONTROLS.test(sentence)) throw new Find(`the sentence holds a control character: ${shown}`);
  if (!/\S; \S/.test(sentence)) throw new Find(`the sentence names no way out: ${shown}`);
  if (/\[object |\bundefined\b(?!')|\bat .*:\d+:\d+/.test(sentence.replace(/'[^']*'/g, "''")))
    throw new Find(`the sentence shows the inside of the program: ${shown}`);
  if (sentence.length > 1000) throw new Find(`the sentence has ${sentence.length} signs: ${shown}`);
  return kindOfSentence(sentence);
}

/** @throws Find where a number anywhere in a value is not finite. */
export function checkFinite(value: unknown, place = "the value"): void {
  if (typeof value === "number") {
    if (!Number.isFinite(value)) throw new Find(`${place} is ${value}`);
  } else if (value instanceof Float64Array || value instanceof Float32Array) {
    const at = value.findIndex((one) => !Number.isFinite(one));
    if (at >= 0) throw new Find(`${place}[${at}] is ${value[at]}`);
  } else if (value instanceof Map) {
    for (const [key, one] of value) checkFinite(one, `${place}[${String(key)}]`);
  } else if (typeof value === "object" && value !== null && !ArrayBuffer.isView(value)) {
    for (const [key, one] of Object.entries(value)) checkFinite(one, `${place}.${key}`);
  }
}

/** @throws Find where a text for people shows a number that is none. */
export function refuseNaN(text: string): void {
  const found = /.{0,60}(?<![\w'])(?:NaN|-?Infinity|undefined|\[object)(?![\w']).{0,40}/.exec(text);
  if (found !== null) throw new Find(`the text shows ${JSON.stringify(found[0])}`);
}
