import { parse, stringify } from "yaml";
import { InputError, readProfile } from "../importers/browser.js";

export type Draft = { readonly [key: string]: unknown };

/** The profile as the form holds it: the file's own keys and units, complete or not yet. */
export function draftOf(text: string | null): Draft {
  if (text === null) return { loads: [newLoad([])] };
  try {
    const found: unknown = parse(text);
    return typeof found === "object" && found !== null && !Array.isArray(found) ? (found as Draft) : {};
  } catch {
    return {};
  }
}

export function draftText(draft: Draft): string {
  return stringify(draft, { version: "1.2" });
}

/** What is still wrong with a draft, in one sentence; null where it can be judged with. */
export function draftProblem(text: string): string | null {
  try {
    readProfile(text, "the profile");
    return null;
  } catch (fault) {
    if (!(fault instanceof InputError)) throw fault;
    return `${fault.problem}; ${fault.remedy}`;
  }
}

export function loadsOf(draft: Draft): readonly Draft[] {
  const { loads } = draft;
  return Array.isArray(loads) ? (loads as Draft[]) : [];
}

/** A load with an id that none of the others has. */
export function newLoad(others: readonly Draft[]): Draft {
  const ids = new Set(others.map(({ id }) => id));
  let number = others.length + 1;
  while (ids.has(`load-${number}`)) number++;
  return { id: `load-${number}`, kind: "resistive" };
}

export function valueAt(draft: Draft, path: readonly (string | number)[]): unknown {
  let value: unknown = draft;
  for (const step of path) {
    if (typeof value !== "object" || value === null) return undefined;
    value = (value as Record<string | number, unknown>)[step];
  }
  return value;
}

/** The draft with another value at a path; `undefined` takes the key out, and groups that become empty with it. */
export function withValue(draft: Draft, path: readonly (string | number)[], value: unknown): Draft {
  return (changed(draft, path, value) as Draft | undefined) ?? {};
}

function changed(part: unknown, path: readonly (string | number)[], value: unknown): unknown {
  const [step, ...rest] = path;
  if (step === undefined) return value;
  if (typeof step === "number") {
    const list = Array.isArray(part) ? [...part] : [];
    list[step] = changed(list[step], rest, value);
    return list.every((one) => one === undefined) ? undefined : list.map((one) => one ?? null);
  }
  const group = typeof part === "object" && part !== null ? { ...(part as Record<string, unknown>) } : {};
  const next = changed(group[step], rest, value);
  if (next === undefined) delete group[step];
  else group[step] = next;
  return Object.keys(group).length === 0 ? undefined : group;
}
