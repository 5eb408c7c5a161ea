import type { Analysis } from "../core/index.js";
import { namesOf } from "./label-text.js";
import { assumptionText } from "./messages.js";

/**
 * That marks were left out, and why the first was; null where none were.
 *
 * @param whereAll half a sentence that says where all of them are listed
 */
export function marksLeftOutText(
  { assumptions, loads }: Pick<Analysis, "assumptions" | "loads">,
  whereAll: string,
): string | null {
  const [first, ...others] = assumptions.filter(({ code }) => code === "mark-ignored");
  if (first === undefined) return null;
  const sentence = assumptionText(first, namesOf(loads));
  if (others.length === 0) return sentence;
  const more = others.length === 1 ? "So was another one" : `So were ${others.length} others`;
  return `${sentence} ${more}; ${whereAll}.`;
}
