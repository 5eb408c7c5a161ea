import type { Analysis, BudgetRow, UncertaintyBudget } from "../../core/index.js";
import type { NameOf } from "../label-text.js";
import { type Markup, markup, ready } from "../markup.js";
import { displayUnit, formatPercent, formatPlain, formatQuantity } from "../number-format.js";
import { budgetMethodText, budgetQuantityText, budgetSourceText } from "../quantity-words.js";

/** One table for each number with a budget: source, value, standard uncertainty, sensitivity, contribution, share. */
export function budgetSection(analysis: Analysis, nameOf: NameOf): Markup | null {
  if (analysis.budgets.length === 0) return null;
  return markup`<section id="budgets" class="wide" aria-labelledby="budgets-h"><h2 id="budgets-h">Uncertainty budgets</h2><div class="body">
${analysis.budgets.map((budget) => budgetMarkup(budget, nameOf))}
<p class="aside">${BUDGET_ASIDE}</p></div></section>`;
}

export const BUDGET_ASIDE =
  "Layout after JCGM 100:2008, table H.1. Sensitivity is the change of the result for a unit change of the source; the share is of the variance.";

export const BUDGET_HEAD = ["Source", "Value", "Standard uncertainty", "Sensitivity", "Contribution", "Share"] as const;

/** What a budget is of, and the value with its standard uncertainty. */
export function budgetTitle(
  budget: UncertaintyBudget,
  nameOf: NameOf,
): { readonly name: string; readonly value: string } {
  const name = `${budgetQuantityText(budget.quantity)}${budget.load === null ? "" : `, ${nameOf(budget.load)}`}`;
  const whole = {
    ...budget,
    low: budget.value - budget.u,
    high: budget.value + budget.u,
    coverage: 0.68,
    route: "readings",
  } as const;
  return { name, value: formatQuantity(whole, { form: "standard" }) };
}

/** The cells of one row, in the order of `BUDGET_HEAD`. */
export function budgetCells(row: BudgetRow, budget: UncertaintyBudget): readonly string[] {
  const unit = displayUnit(budget.unit, Math.abs(budget.value));
  const contribution = Math.abs(row.sensitivity * row.u) * unit.factor;
  return [
    budgetSourceText(row.source),
    formatPlain(row.value, row.unit, { digits: 4 }),
    formatPlain(row.u, row.unit, { digits: 2 }),
    sensitivityText(row, budget),
    `${formatPlain(contribution, "1", { digits: 2 })} ${unit.symbol}`,
    formatPercent(row.share),
  ];
}

function budgetMarkup(budget: UncertaintyBudget, nameOf: NameOf): Markup {
  const { name, value } = budgetTitle(budget, nameOf);
  return markup`<h3>${name}: ${value}</h3>
<div class="table" tabindex="0" role="region" aria-label="Uncertainty budget: ${name}"><table class="budget">
<thead><tr>${BUDGET_HEAD.map((cell) => markup`<th scope="col">${cell}</th>`)}</tr></thead>
<tbody>${budget.rows.map((row) => rowMarkup(row, budget))}</tbody></table></div>
<p class="aside">${budgetMethodText(budget.method)}</p>`;
}

function rowMarkup(row: BudgetRow, budget: UncertaintyBudget): Markup {
  const [source, ...cells] = budgetCells(row, budget);
  const share = cells.pop()!;
  return markup`<tr><th scope="row">${source!}</th>${cells.map((cell) => markup`<td>${cell}</td>`)}<td><span class="share">${shareBar(row.share)}${share}</span></td></tr>`;
}

function sensitivityText(row: BudgetRow, budget: UncertaintyBudget): string {
  const above = displayUnit(budget.unit, Math.abs(budget.value));
  const below = displayUnit(row.unit, Math.abs(row.value));
  const figure = formatPlain((row.sensitivity * above.factor) / below.factor, "1", { digits: 3 });
  return `${figure} ${above.symbol}${below.symbol === "" ? "" : `/${below.symbol}`}`;
}

function shareBar(share: number): Markup {
  const width = Math.round(Math.min(1, Math.max(0, Number.isFinite(share) ? share : 0)) * 600) / 10;
  return ready(
    `<svg class="bar" viewBox="0 0 60 10" aria-hidden="true"><path class="bar-ground" d="M0 5H60"/><path class="bar-share" d="M0 5H${width}"/></svg>`,
  );
}
