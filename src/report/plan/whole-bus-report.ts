import type { WholeBus } from "../../core/index.js";
import { asciiText } from "../label-text.js";
import { labelMarkup, type Markup, markup } from "../markup.js";
import { madeAtText } from "../sections/notes.js";
import type { TerminalStyle } from "../terminal-summary.js";
import { plainPage, section, sentences } from "./plain-page.js";
import { PLAN_CAUTIONS } from "./plan-cautions.js";
import { columnLines, wrappedLines } from "./text-lines.js";
import {
  evidenceText,
  standingText,
  WHOLE_BUS_HEAD,
  wholeBusHeadline,
  wholeBusRows,
  witnessText,
} from "./whole-bus-words.js";

/** What the account says beside its items. */
export interface WholeBusContext {
  readonly title: string;
  /** Names of the recording and of the ticked run sheet. */
  readonly sources: readonly string[];
  readonly softwareVersion: string;
  /** ISO 8601. */
  readonly madeAt: string;
}

/** The account of the whole bus as text. */
export function renderWholeBusTerminal(bus: WholeBus, style: TerminalStyle): string {
  const columns = Math.min(100, Math.max(60, Math.floor(style.columns)));
  const plain = (text: string) => (style.ascii ? asciiText(text) : text);
  const rows = wholeBusRows(bus).map(([item, stands, evidence, by]) =>
    [item!, stands!, by === "" ? evidence! : `${evidence} [${by}]`].map(plain),
  );
  const lines = [
    ...wrappedLines(`Whole bus: ${wholeBusHeadline(bus)}`, columns),
    "",
    ...columnLines([["item", "stands", "evidence"], ...rows], columns),
  ];
  return `${lines.join("\n")}\n`;
}

/** The account as one printable page. */
export function renderWholeBusHtml(bus: WholeBus, context: WholeBusContext): string {
  return plainPage({
    kind: "Whole bus",
    title: context.title,
    facts: factsText(context),
    softwareVersion: context.softwareVersion,
    style: BUS_STYLE,
    sections: [wholeBusSection(bus), section("cautions", "Cautions", sentences(PLAN_CAUTIONS, "cautions"))],
  });
}

const TONES = {
  answered: "responded",
  silent: "silent",
  contradiction: "silent",
  open: "undecided",
  "no-evidence": "undecided",
} as const;

/** Every item of the bus with what stands for or against it. */
function wholeBusSection(bus: WholeBus): Markup {
  const rows = bus.items.map(
    (item) =>
      markup`<tr class="${TONES[item.standing]}"><th scope="row">${labelMarkup(item.name, 60)}${item.bus === null ? null : markup`<span class="where">${item.bus}</span>`}</th><td class="stands">${standingText(item)}</td><td class="words">${evidenceText(item)}</td><td class="words">${witnessText(item)}</td></tr>`,
  );
  return section(
    "whole-bus",
    "Every item",
    markup`<p class="headline">${wholeBusHeadline(bus)}</p>
<div class="table" tabindex="0" role="region" aria-label="Every item of the bus"><table>
<thead><tr>${WHOLE_BUS_HEAD.map((head) => markup`<th scope="col">${head}</th>`)}</tr></thead>
<tbody>${rows}</tbody></table></div>`,
    true,
  );
}

const BUS_STYLE = `
#whole-bus .words{white-space:normal;min-width:9rem}
#whole-bus tbody th{min-width:7.5rem}
#whole-bus .stands{font-weight:700}
#whole-bus .responded .stands{color:var(--responded)}#whole-bus .silent .stands{color:var(--silent)}#whole-bus .undecided .stands{color:var(--undecided)}
#whole-bus .where{display:block;font-weight:400;font-size:.75rem;color:var(--soft)}
@media screen and (max-width:44rem){#whole-bus table,#whole-bus tbody{display:block}#whole-bus thead{position:absolute;clip-path:inset(50%);width:1px;height:1px;overflow:hidden}#whole-bus tbody tr{display:grid;grid-template-columns:1fr auto;gap:.15rem .75rem;padding:.6rem 0;border-bottom:1px solid var(--grid)}#whole-bus td,#whole-bus tbody th{display:block;border:0;padding:0;text-align:left;min-width:0}#whole-bus .words{grid-column:1/-1}#whole-bus .words:empty{display:none}#whole-bus .words:last-child::before{content:"Found by, when: ";color:var(--soft)}}
@media print{#whole-bus .table{font-size:7.5pt}#whole-bus td,#whole-bus th{padding-top:.12rem;padding-bottom:.12rem}#whole-bus .words{min-width:0}}
`;

/** Where the account comes from. */
export function factsText({ sources, madeAt }: WholeBusContext): string {
  return `From ${sources.join(" and ")}, ${madeAtText(madeAt)}.`;
}
