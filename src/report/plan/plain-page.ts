import { type Markup, markup, ready } from "../markup.js";
import { PAGE_STYLE } from "../page-style.js";

/** Nothing may be fetched or run: the page is whole, and says so to the browser. */
const CONTENT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";

/** What a page without figures and scripts is made of. */
export interface PlainPage {
  readonly kind: string;
  readonly title: string;
  readonly facts: string;
  readonly softwareVersion: string;
  /** Rules beside the report's style sheet. */
  readonly style: string;
  readonly sections: readonly (Markup | null)[];
}

/** One HTML document that opens from disk with no network. */
export function plainPage(page: PlainPage): string {
  return markup`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="${CONTENT_POLICY}">
<meta name="color-scheme" content="light dark">
<meta name="generator" content="busdip ${page.softwareVersion}">
<title>${page.title}: ${page.kind.toLowerCase()}</title>
<style>${ready(PAGE_STYLE)}${ready(page.style)}</style>
</head>
<body>
<header>
<p class="kind">${page.kind}</p>
<h1>${page.title}</h1>
<p class="facts-line">${page.facts}</p>
</header>
<main>
${page.sections}
</main>
<footer><p>Made by busdip ${page.softwareVersion}. Advisory: the approved manuals and the licensed person decide.</p></footer>
</body>
</html>
`.html;
}

/** A section with its heading; `wide` sets the heading above instead of beside. */
export function section(id: string, heading: string, body: Markup | readonly Markup[], wide = false): Markup {
  return markup`<section id="${id}"${ready(wide ? ' class="wide"' : "")} aria-labelledby="${id}-h"><h2 id="${id}-h">${heading}</h2><div class="body">${body}</div></section>
`;
}

/** A list of sentences. */
export function sentences(items: readonly string[], className = ""): Markup {
  return markup`<ul${ready(className === "" ? "" : ` class="${className}"`)}>${items.map((item) => markup`<li>${item}</li>`)}</ul>`;
}
