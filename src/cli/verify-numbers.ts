import type { CheckLine } from "./verify-line.js";

/** Numbers may differ by this fraction and still hold: the last places differ between processors. */
const NUMBER_TOLERANCE = 1e-9;
/** Below this a number is nothing but rounding. */
const ROUNDING = 1e-12;

/** One number or text of a result as it was claimed and as it was computed again. */
export interface Claim {
  /** Where it stands, such as `loads[probe].depth_V`. */
  readonly place: string;
  readonly claimed: Leaf | undefined;
  readonly computed: Leaf | undefined;
  readonly holds: boolean;
}

type Leaf = number | string | boolean | null;

/**
 * Holds every number and text of a claimed result against the one computed again; fields that only the writer knows
 * (who made it when, the inputs, the seal) are left to the seal.
 */
export function compareResults(claimed: object, computed: object): readonly Claim[] {
  const found = leavesOf(claimed);
  const due = leavesOf(computed);
  return [...new Set([...found.keys(), ...due.keys()])].map((place) => {
    const one = { place, claimed: found.get(place), computed: due.get(place) };
    return { ...one, holds: same(one.claimed, one.computed) };
  });
}

function same(claimed: Leaf | undefined, computed: Leaf | undefined): boolean {
  if (typeof claimed !== "number" || typeof computed !== "number") return claimed === computed;
  const difference = Math.abs(claimed - computed);
  return difference <= ROUNDING || difference <= NUMBER_TOLERANCE * Math.max(Math.abs(claimed), Math.abs(computed));
}

const NOT_COMPUTED = new Set(["generator", "inputs", "seal"]);

function leavesOf(result: object): Map<string, Leaf> {
  const leaves = new Map<string, Leaf>();
  for (const [key, value] of Object.entries(result)) if (!NOT_COMPUTED.has(key)) collect(value, key, leaves);
  return leaves;
}

function collect(value: unknown, place: string, leaves: Map<string, Leaf>): void {
  if (typeof value !== "object" || value === null) {
    if (value !== undefined) leaves.set(place, value as Leaf);
  } else if (Array.isArray(value)) {
    leaves.set(`${place}.length`, value.length);
    value.forEach((item, i) => {
      collect(item, `${place}[${nameOf(item) ?? i + 1}]`, leaves);
    });
  } else {
    for (const [key, inner] of Object.entries(value)) collect(inner, `${place}.${key}`, leaves);
  }
}

/** Loads are named by their id, everything else is counted from one. */
function nameOf(item: unknown): string | null {
  if (typeof item !== "object" || item === null || !("id" in item) || typeof item.id !== "string") return null;
  return item.id;
}

const MOST_CLAIMS_TOLD = 8;

/** Where a result says its codes and numbers once more, as a sentence. */
const SENTENCE = /\.(?:text|reason|evidence)$/;

/** How many numbers hold, or which do not: changed where the same program computed them, else only differing. */
export function numberLines(claims: readonly Claim[], sameProgram: boolean): CheckLine[] {
  const state = sameProgram ? "changed" : "differs";
  const worded = sameProgram ? [] : claims.filter((claim) => !claim.holds && SENTENCE.test(claim.place));
  const failing = claims.filter((claim) => !claim.holds && !worded.includes(claim));
  return [...leafLines(claims, failing, worded.length, state), ...wordedLines(worded)];
}

function wordedLines(worded: readonly Claim[]): CheckLine[] {
  if (worded.length === 0) return [];
  const detail = `${worded.length.toLocaleString("en")} worded otherwise by this program, such as ${worded[0]!.place}`;
  return [{ what: "sentences", state: "not checked", detail }];
}

function leafLines(
  claims: readonly Claim[],
  failing: readonly Claim[],
  wordedCount: number,
  state: CheckLine["state"],
): CheckLine[] {
  const numbers = claims.filter((claim) => typeof claim.claimed === "number").length;
  const others = claims.length - numbers - wordedCount;
  if (failing.length === 0) {
    const detail = `${numbers.toLocaleString("en")} numbers and ${others.toLocaleString("en")} words computed again, all the same`;
    return [{ what: "result", state: "holds", detail }];
  }
  const lines: CheckLine[] = failing.slice(0, MOST_CLAIMS_TOLD).map((claim) => ({
    what: "result",
    state,
    detail: `${claim.place} is ${shown(claim.claimed)}, computed again ${shown(claim.computed)}`,
  }));
  const more = failing.length - lines.length;
  if (more > 0) lines.push({ what: "result", state, detail: `and ${more.toLocaleString("en")} more` });
  return lines;
}

function shown(value: Claim["claimed"]): string {
  if (value === undefined) return "missing";
  const text = JSON.stringify(value);
  return text.length <= 70 ? text : `${text.slice(0, 67)}...`;
}
