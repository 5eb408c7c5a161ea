import type { Document, LineCounter } from "yaml";
import { isMap, isNode, isScalar } from "yaml";
import { z } from "zod";
import { InputError } from "../input-error.js";
import { nearestWord } from "./nearest-word.js";

type Issue = z.core.$ZodIssue;
type Path = readonly PropertyKey[];

/** Where the words of a profile stand: its file name, parsed document and line breaks. */
export interface ProfileText {
  readonly fileName: string;
  readonly document: Document;
  readonly lines: LineCounter;
}

/** The one sentence for the first thing that is wrong with a profile. */
export function schemaFault(
  source: ProfileText,
  schema: z.ZodType,
  issues: readonly Issue[],
  found: unknown,
): InputError {
  const issue = innermost(issues[0]!, found, []);
  if (issue.code === "unrecognized_keys") return keyFault(source, schema, issue.path, issue.keys[0]!, found);
  return fieldFault(source, issue.path, found, issue.message);
}

function keyFault(source: ProfileText, schema: z.ZodType, path: Path, key: string, found: unknown): InputError {
  const known = knownKeys(schema, path);
  const present = Object.keys(valueAt(found, path) as object).filter((other) => other !== key);
  const place = placeOfKey(source, path, key);
  if (known.includes(key)) {
    return new InputError({
      ...place,
      problem: `key '${key}' cannot stand beside ${present.map((other) => `'${other}'`).join(" and ")} in ${words(path, found)}`,
      remedy: "leave out the one or the other",
    });
  }
  const free = known.filter((other) => !present.includes(other));
  const nearest = nearestWord(key, free);
  return new InputError({
    ...place,
    problem: `key '${key}' is not known${path.length === 0 ? "" : ` in ${words(path, found)}`}`,
    remedy: nearest === null ? `known keys are ${known.join(", ")}` : `did you mean '${nearest}'?`,
  });
}

/** The sentence for one field: where it stands, what was found, what to write instead. */
export function fieldFault(source: ProfileText, path: Path, found: unknown, expected: string): InputError {
  const value = valueAt(found, path);
  if (value === undefined) {
    return new InputError({
      ...placeOf(source, path.slice(0, -1)),
      problem: `${words(path, found)} is missing`,
      remedy: `write ${expected}`,
    });
  }
  return new InputError({
    ...placeOf(source, path),
    problem: `${path.length === 0 ? "the profile" : words(path, found)} is ${quoted(value)}`,
    remedy: `write ${expected}`,
  });
}

/** Of a choice between forms, the complaint of the form that the person most likely meant. */
function innermost(issue: Issue, found: unknown, outer: Path): Issue {
  const path = [...outer, ...issue.path];
  if (issue.code !== "invalid_union" || issue.errors.length === 0) return { ...issue, path };
  const value = valueAt(found, path);
  if (typeof value !== "object" || value === null || Array.isArray(value)) return { ...issue, path };
  const strangers = (branch: readonly Issue[]) =>
    branch.reduce((sum, inner) => sum + (inner.code === "unrecognized_keys" ? inner.keys.length : 0), 0);
  const branches = [...issue.errors].sort((a, b) => strangers(a) - strangers(b) || a.length - b.length);
  const nearest = branches[0]!;
  const telling = nearest.find((inner) => inner.code === "unrecognized_keys") ?? nearest[0]!;
  return innermost(telling, found, path);
}

/** The keys that the schema knows at a path; of a choice between forms, those of all forms. */
function knownKeys(schema: z.ZodType, path: Path): string[] {
  let level: z.ZodType[] = unfold(schema);
  for (const step of path) {
    level = level.flatMap((part) => {
      if (part instanceof z.ZodObject) return unfold(part.shape[String(step)] as z.ZodType | undefined);
      if (part instanceof z.ZodArray) return unfold(part.element as z.ZodType);
      return [];
    });
  }
  return [...new Set(level.flatMap((part) => (part instanceof z.ZodObject ? Object.keys(part.shape) : [])))];
}

function unfold(schema: z.ZodType | undefined): z.ZodType[] {
  if (schema === undefined) return [];
  if (schema instanceof z.ZodOptional) return unfold(schema.unwrap() as z.ZodType);
  if (schema instanceof z.ZodUnion) return (schema.options as z.ZodType[]).flatMap(unfold);
  return [schema];
}

function valueAt(found: unknown, path: Path): unknown {
  let value = found;
  for (const step of path) {
    if (typeof value !== "object" || value === null) return undefined;
    value = (value as Record<PropertyKey, unknown>)[step];
  }
  return value;
}

/** A path as a person would say it, with the load's id where there is one: `loads[2] (probe-heat) accept_A`. */
function words(path: Path, found: unknown): string {
  let text = "";
  path.forEach((step, index) => {
    text += typeof step === "number" ? `[${step}]` : `${text === "" ? "" : "."}${String(step)}`;
    if (path[0] === "loads" && index === 1) {
      const id = valueAt(found, ["loads", step, "id"]);
      if (typeof id === "string") text += ` (${id})`;
    }
  });
  return text;
}

function quoted(value: unknown): string {
  if (value === null) return "empty";
  if (Array.isArray(value)) {
    return value.every((item) => typeof item === "number") && value.length <= 8
      ? `[${value.join(", ")}]`
      : `a list of ${value.length}`;
  }
  if (typeof value === "object") return "a group of keys";
  const text = String(value);
  const short = text.length > 40 ? `${text.slice(0, 40)}...` : text;
  return typeof value === "string" ? `'${short}'` : short;
}

interface Place {
  file: string;
  line?: number;
  column?: number;
}

function placeAt(source: ProfileText, offset: number | undefined): Place {
  if (offset === undefined) return { file: source.fileName };
  const { line, col } = source.lines.linePos(offset);
  return { file: source.fileName, line, column: col };
}

function placeOf(source: ProfileText, path: Path): Place {
  const node = path.length === 0 ? source.document.contents : source.document.getIn(path, true);
  return placeAt(source, isNode(node) ? node.range?.[0] : undefined);
}

function placeOfKey(source: ProfileText, path: Path, key: string): Place {
  const parent = path.length === 0 ? source.document.contents : source.document.getIn(path, true);
  const pair = isMap(parent)
    ? parent.items.find((item) => isScalar(item.key) && String(item.key.value) === key)
    : undefined;
  return isNode(pair?.key) ? placeAt(source, pair.key.range?.[0]) : placeOf(source, path);
}
