import type { WholeBus } from "../../core/index.js";
import { labelMarkup, type Markup, markup } from "../markup.js";
import { evidenceText, standingText, WHOLE_BUS_HEAD, witnessText } from "../plan/whole-bus-words.js";

const TONES = {
  answered: "responded",
  silent: "silent",
  contradiction: "silent",
  open: "undecided",
  "no-evidence": "undecided",
} as const;

/** Every item of the bus with what stands for or against it. */
export function wholeBusTable(bus: WholeBus): Markup {
  const rows = bus.items.map(
    (item) =>
      markup`<tr class="${TONES[item.standing]}"><th scope="row">${labelMarkup(item.name, 60)}${item.bus === null ? null : markup`<span class="where">${labelMarkup(item.bus, 60)}</span>`}</th><td class="stands">${standingText(item)}</td><td class="words">${evidenceText(item)}</td><td class="words">${witnessText(item)}</td></tr>`,
  );
  return markup`<div class="table whole-bus" tabindex="0" role="region" aria-label="Every item of the bus"><table>
<thead><tr>${WHOLE_BUS_HEAD.map((head) => markup`<th scope="col">${head}</th>`)}</tr></thead>
<tbody>${rows}</tbody></table></div>`;
}

/** Rules of that table: on a narrow screen each item becomes a block of its own. */
export const WHOLE_BUS_STYLE = `
.whole-bus .words{white-space:normal;min-width:9rem}
.whole-bus tbody th{min-width:7.5rem}
.whole-bus .stands{font-weight:700}
.whole-bus .responded .stands{color:var(--responded)}.whole-bus .silent .stands{color:var(--silent)}.whole-bus .undecided .stands{color:var(--undecided)}
.whole-bus .where{display:block;font-weight:400;font-size:.75rem;color:var(--soft)}
@media screen and (max-width:44rem){.whole-bus table,.whole-bus tbody{display:block}.whole-bus thead{position:absolute;clip-path:inset(50%);width:1px;height:1px;overflow:hidden}.whole-bus tbody tr{display:grid;grid-template-columns:1fr auto;gap:.15rem .75rem;padding:.6rem 0;border-bottom:1px solid var(--grid)}.whole-bus td,.whole-bus tbody th{display:block;border:0;padding:0;text-align:left;min-width:0}.whole-bus .words{grid-column:1/-1}.whole-bus .words:empty{display:none}.whole-bus .words:last-child::before{content:"Found by, when: ";color:var(--soft)}}
@media print{.whole-bus.table{font-size:7.5pt}.whole-bus td,.whole-bus th{padding-top:.12rem;padding-bottom:.12rem}.whole-bus .words{min-width:0}}
`;
