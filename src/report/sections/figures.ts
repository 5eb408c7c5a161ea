import type { Figure, FigureTable, KeyEntry } from "../figures/figure.js";
import { svgFigure } from "../figures/svg-figure.js";
import { swatchSvg } from "../figures/svg-key.js";
import { type Markup, markup, ready } from "../markup.js";

/**
 * Every figure: title, key, the drawing (static, made interactive by the script), caption and its table.
 *
 * `narrow` draws for a phone; else a drawing wider than the page scrolls.
 */
export function figureSection(figures: readonly Figure[], narrow = false): Markup | null {
  if (figures.length === 0) return null;
  return markup`<section id="figures" aria-labelledby="figures-h"><h2 id="figures-h">What was seen</h2><div class="body">
${figures.map((figure, i) => figureMarkup(figure, i + 1, narrow))}</div></section>`;
}

function figureMarkup(figure: Figure, number: number, narrow: boolean): Markup {
  return markup`<figure id="${figure.id}" aria-labelledby="${figure.id}-t">
<p class="figure-title" id="${figure.id}-t"><b>Figure ${number}.</b> ${figure.title}</p>
<p class="key">${figure.key.map(keyEntry)}</p>
<div class="drawing static">${ready(svgFigure(figure, { narrow }))}</div>
<div class="drawing interactive" data-figure="${figure.id}" role="img" aria-label="${figure.alt}" hidden></div>
<figcaption>${figure.caption}</figcaption>
<details><summary>Figure ${number} as a table</summary>${tableMarkup(figure.table, `Figure ${number}: ${figure.title}`)}</details></figure>`;
}

function keyEntry(entry: KeyEntry): Markup {
  return markup`<span><svg class="figure-svg swatch" viewBox="0 0 30 16" aria-hidden="true">${ready(swatchSvg(entry.sign))}</svg>${entry.text}</span>`;
}

/** A table that scrolls sideways in its own box where the page is too narrow for it. */
export function tableMarkup(table: FigureTable, caption: string): Markup {
  return markup`<div class="table" tabindex="0" role="region" aria-label="${caption}"><table>
<thead><tr>${table.head.map((cell) => markup`<th scope="col">${cell}</th>`)}</tr></thead>
<tbody>${table.rows.map((row) => markup`<tr>${row.map((cell, i) => (i === 0 ? markup`<th scope="row"><bdi>${cell}</bdi></th>` : markup`<td><bdi>${cell}</bdi></td>`))}</tr>`)}</tbody></table></div>`;
}
