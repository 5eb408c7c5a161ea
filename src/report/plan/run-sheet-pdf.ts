import type { CheckPlan, EnduranceOutlook, PlannedItem } from "../../core/index.js";
import type { NameOf } from "../label-text.js";
import { type Paper, type PdfFlow, type PdfFonts, TEXT, type TextStyle } from "../pdf-flow.js";
import { setTable } from "../pdf-table.js";
import { madeAtText } from "../sections/notes.js";
import { type BoxedColumn, setBoxedTable } from "./boxed-table.js";
import { enduranceBasis, enduranceHeadline, SHED_HEAD, shedRows } from "./endurance-words.js";
import { plainPdf } from "./plain-pdf.js";
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

/** The context of a run sheet on paper. */
export interface RunSheetPdfContext extends PlanContext {
  readonly fonts: PdfFonts;
  /** A4 unless told otherwise. */
  readonly paper?: Paper;
}

/** Items above which the sheet is set smaller, so that forty stand on one side. */
const MANY_ITEMS = 20;

/** The run sheet on paper: the items on the first side, then what the meter can show, endurance and basis. */
export async function renderRunSheetPdf(
  plan: CheckPlan,
  outlook: EnduranceOutlook,
  context: RunSheetPdfContext,
): Promise<Uint8Array> {
  return plainPdf({ ...context, kind: "Run sheet" }, (flow) => {
    itemsPage(flow, plan, context);
    flow.newPage();
    meterPage(flow, plan);
    endurancePage(flow, outlook);
    flow.heading("H2", "Basis");
    flow.list(planBasis(plan));
    flow.heading("H2", "Cautions");
    flow.list(PLAN_CAUTIONS);
  });
}

function itemsPage(flow: PdfFlow, plan: CheckPlan, context: RunSheetPdfContext): void {
  flow.paragraph(`Run sheet, planned from ${context.profileSource}, ${madeAtText(context.madeAt)}`, TEXT.head, 0);
  flow.heading("H1", context.title, 60);
  flow.paragraph(planHeadline(plan), TEXT.body, 2);
  flow.paragraph(PLAN_CAUTIONS.join(" "), TEXT.fine, 5);
  flow.paragraph("Date ____________   Aircraft ____________   Checked by ______________________", TEXT.table, 4);
  const nameOf = planNames(plan);
  const style: TextStyle = plan.items.length > MANY_ITEMS ? TEXT.fine : TEXT.table;
  const columns: readonly BoxedColumn<PlannedItem>[] = [
    { title: "Done", share: 0.055, cell: "box" },
    { title: "No.", share: 0.035, cell: (_, i) => String(i + 1) },
    { title: "Item", share: 0.2, cell: ({ load }) => nameOf(load.id), bold: true },
    { title: "By", share: 0.055, cell: wayText },
    { title: "What to do or look for", share: 0.3, cell: taskText },
    { title: "Take care", share: 0.225, cell: (item) => careAndPlace(item, plan, nameOf) },
    { title: "Found, when", share: 0.13, cell: "blank" },
  ];
  setBoxedTable(flow, columns, plan.items, style);
  flow.paragraph(BEAT_HELP, TEXT.head, 0);
}

function careAndPlace(item: PlannedItem, plan: CheckPlan, nameOf: NameOf): string {
  const place = placeText(item.load, plan);
  return [careText(item, nameOf), place === "" ? "" : `${place[0]!.toUpperCase()}${place.slice(1)}.`]
    .filter((part) => part !== "")
    .join(" ");
}

function meterPage(flow: PdfFlow, plan: CheckPlan): void {
  const needles = plan.items.filter(({ needle }) => needle !== null);
  if (needles.length === 0) return;
  const nameOf = planNames(plan);
  flow.heading("H2", "What the meter can show");
  setTable(flow, {
    head: ["Load", "Expected dip (95 %)", "Shown from", "Times", "Chance", "On in all", "Beat, s on/off"],
    rows: needles.map(({ load, needle }) => [
      nameOf(load.id),
      expectedText(needle!),
      detectableText(needle!),
      needle!.pattern === null ? "not planned" : String(needle!.pattern.onS.length),
      chanceText(needle!),
      needle!.pattern === null ? "" : `${needle!.pattern.totalOnS} s of ${needle!.pattern.lengthS} s`,
      needle!.pattern === null ? "" : beatText(needle!.pattern),
    ]),
  });
  const obstacles = needles.flatMap(({ load, needle }) =>
    needle!.obstacle === null ? [] : [`${nameOf(load.id)}: ${obstacleText(needle!.obstacle, nameOf)}`],
  );
  if (obstacles.length === 0) return;
  flow.heading("H3", "What it cannot show, and what would help");
  flow.list(obstacles);
}

function endurancePage(flow: PdfFlow, outlook: EnduranceOutlook): void {
  flow.heading("H2", "Endurance");
  flow.paragraph(enduranceHeadline(outlook), TEXT.lead, 6);
  const rows = shedRows(outlook);
  if (rows.length > 0) setTable(flow, { head: SHED_HEAD, rows });
  for (const sentence of enduranceBasis(outlook)) flow.paragraph(sentence, TEXT.aside, 2);
}
