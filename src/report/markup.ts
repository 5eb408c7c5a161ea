import { plainLabel } from "./label-text.js";
import { unbrokenFigures } from "./number-format.js";

/** Text that is HTML already; everything else is escaped on its way into a page. */
export class Markup {
  constructor(readonly html: string) {}
}

type Part = Markup | string | number | null | readonly Part[];

/** Template tag: the literal parts are HTML, the values are text unless they are markup themselves. */
export function markup(literals: TemplateStringsArray, ...values: readonly Part[]): Markup {
  const parts = literals.map((literal, i) => (i < values.length ? `${literal}${htmlOf(values[i]!)}` : literal));
  return new Markup(parts.join(""));
}

/** HTML made by our own renderers from escaped text. */
export function ready(html: string): Markup {
  return new Markup(html);
}

/** A label from a file, kept from changing the direction of the text around it. */
export function labelMarkup(text: string, longest?: number): Markup {
  return markup`<bdi>${plainLabel(text, longest)}</bdi>`;
}

/** Text shown sign for sign. */
export function verbatim(text: string): Markup {
  return new Markup(escaped(text));
}

/** Data for a script element; no sequence in it can close the element or open a comment. */
export function scriptData(data: unknown): Markup {
  return new Markup(
    JSON.stringify(data).replace(
      /[<>&\u2028\u2029]/g,
      (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, "0")}`,
    ),
  );
}

/** Program text for a script element, with the two sequences that the HTML parser would act on broken up. */
export function scriptSource(source: string): Markup {
  return new Markup(source.replace(/<\/(script)/gi, "<\\/$1").replace(/<!--/g, "<\\!--"));
}

function htmlOf(part: Part): string {
  if (part === null) return "";
  if (part instanceof Markup) return part.html;
  if (typeof part === "object") return part.map(htmlOf).join("");
  return escaped(unbrokenFigures(String(part)));
}

function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`);
}
