import type { CheckPlan, EnduranceOutlook, PlannedItem } from "../../core/index.js";
import { labelMarkup, type Markup, markup } from "../markup.js";
import { tableMarkup } from "../sections/figures.js";
import { madeAtText } from "../sections/notes.js";
import { enduranceSection } from "./endurance-html.js";
import { plainPage, section, sentences } from "./plain-page.js";
import { PLAN_CAUTIONS } from "./plan-cautions.js";
import {
  BEAT_HELP,
  beatText,
  careText,
  chanceText,
  detectableText,
  expectedText,
  obstacleText,
  type PlanContext,
  placeText,
  planBasis,
  planHeadline,
  planNames,
  taskText,
  wayText,
} from "./plan-words.js";

/** The run sheet as one printable page: every load in order with its box, then the beats, endurance and basis. */
export function renderRunSheetHtml(plan: CheckPlan, outlook: EnduranceOutlook, context: PlanContext): string {
  const needles = plan.items.filter(({ needle }) => needle !== null);
  return plainPage({
    kind: "Run sheet",
    title: context.title,
    facts: `Planned from ${context.profileSource}, ${madeAtText(context.madeAt)}.`,
    softwareVersion: context.softwareVersion,
    style: SHEET_STYLE,
    sections: [
      section(
        "plan",
        "Plan",
        markup`<p class="headline">${planHeadline(plan)}</p><p class="fill">Date ______________ Aircraft ______________ Checked by ______________________</p>`,
      ),
      section("cautions", "Cautions", sentences(PLAN_CAUTIONS, "cautions")),
      sheetSection(plan),
      needles.length === 0 ? null : meterSection(plan, needles),
      enduranceSection(outlook),
      section("basis", "Basis", sentences(planBasis(plan))),
    ],
  });
}

function sheetSection(plan: CheckPlan): Markup {
  const nameOf = planNames(plan);
  const rows = plan.items.map((item, i) => {
    const { load } = item;
    const name = nameOf(load.id);
    const where = placeText(load, plan);
    return markup`<tr><td class="box"><input type="checkbox" aria-label="${name} done"></td><td class="number">${i + 1}</td><th scope="row">${labelMarkup(name)}${where === "" ? null : markup`<span class="where">${where}</span>`}</th><td>${wayText(item)}</td><td class="words">${taskText(item)}</td><td class="words care">${careText(item, nameOf)}</td><td class="blank"></td></tr>`;
  });
  return section(
    "sheet",
    "Items, in this order",
    markup`<p class="aside">${BEAT_HELP} Tick when done; on paper, write what was found and when into the last column.</p>
<div class="table" tabindex="0" role="region" aria-label="Items, in this order"><table>
<thead><tr><th scope="col">Done</th><th scope="col">No.</th><th scope="col">Item</th><th scope="col">By</th><th scope="col">What to do or look for</th><th scope="col">Take care</th><th scope="col">Found, when</th></tr></thead>
<tbody>${rows}</tbody></table></div>`,
    true,
  );
}

function meterSection(plan: CheckPlan, needles: readonly PlannedItem[]): Markup {
  const nameOf = planNames(plan);
  const obstacles = needles.flatMap(({ load, needle }) =>
    needle!.obstacle === null ? [] : [`${nameOf(load.id)}: ${obstacleText(needle!.obstacle, nameOf)}`],
  );
  const head = [
    "Load",
    "Expected dip (95 %)",
    "Shown from",
    "Times",
    "Chance to be found",
    "On in all",
    "Beat, s on/off",
  ];
  const rows = needles.map(({ load, needle }) => [
    nameOf(load.id),
    expectedText(needle!),
    detectableText(needle!),
    needle!.pattern === null ? "not planned" : String(needle!.pattern.onS.length),
    chanceText(needle!),
    needle!.pattern === null ? "" : `${needle!.pattern.totalOnS} s of ${needle!.pattern.lengthS} s`,
    needle!.pattern === null ? "" : beatText(needle!.pattern),
  ]);
  return section(
    "meter",
    "What the meter can show",
    markup`${tableMarkup({ head, rows }, "What the meter can show")}
${obstacles.length === 0 ? null : markup`<h3>What it cannot show, and what would help</h3>${sentences(obstacles)}`}`,
    true,
  );
}

const SHEET_STYLE = `
.fill{font:.875rem/2 var(--sans);color:var(--soft);margin:.4rem 0 0}
#sheet td,#sheet th{vertical-align:middle}
#sheet tbody tr{break-inside:avoid}
#sheet .box{width:2rem}
#sheet .box input{width:1.25rem;height:1.25rem;margin:0;accent-color:var(--model)}
#sheet .words{white-space:normal;min-width:11rem}
#sheet .blank{min-width:6rem;border-left:1px solid var(--grid)}
#sheet .where{display:block;font-weight:400;font-size:.75rem;color:var(--soft)}
#sheet tbody th,#meter tbody th,#endurance tbody th{min-width:7.5rem}
#meter td{white-space:normal;min-width:5rem}
#meter td:nth-child(2),#meter td:last-child{min-width:11rem}
@media screen and (max-width:44rem){#sheet table,#sheet tbody{display:block}#sheet thead{position:absolute;clip-path:inset(50%);width:1px;height:1px;overflow:hidden}#sheet tbody tr{display:grid;grid-template-columns:2.25rem 1.75rem 1fr auto;gap:.15rem .25rem;align-items:baseline;padding:.6rem 0;border-bottom:1px solid var(--grid)}#sheet td,#sheet tbody th{display:block;border:0;padding:0;text-align:left;min-width:0}#sheet .box{grid-row:1;align-self:center}#sheet .box input{width:1.75rem;height:1.75rem}#sheet .words{grid-column:3/-1}#sheet .care{font-weight:600}#sheet .words:empty,#sheet .blank{display:none}}
@media print{#sheet .words,#sheet tbody th,#meter td,#meter tbody th{min-width:0}#sheet .table{font-size:7.5pt}#sheet td,#sheet th{padding-top:.12rem;padding-bottom:.12rem}#sheet .box input{width:9pt;height:9pt;appearance:none;border:1px solid #000}#cautions{font-size:8.5pt}}
`;
