import type { EnduranceOutlook } from "../../core/index.js";
import { type Markup, markup } from "../markup.js";
import { tableMarkup } from "../sections/figures.js";
import { enduranceBasis, enduranceHeadline, SHED_HEAD, shedRows } from "./endurance-words.js";
import { section, sentences } from "./plain-page.js";

/** Minutes on battery with everything on, and what each load costs; or why that cannot be told. */
export function enduranceSection(outlook: EnduranceOutlook): Markup {
  const rows = shedRows(outlook);
  const basis = enduranceBasis(outlook);
  return section(
    "endurance",
    "Endurance",
    markup`<p class="headline">${enduranceHeadline(outlook)}</p>
${rows.length === 0 ? null : markup`<h3>What switching one load off buys</h3>${tableMarkup({ head: SHED_HEAD, rows }, "What switching one load off buys")}`}
${basis.length === 0 ? null : sentences(basis, "aside")}`,
  );
}
