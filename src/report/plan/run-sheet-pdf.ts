import type { CheckPlan, EnduranceOutlook, PlannedItem } from "../../core/index.js";
import type { NameOf } from "../label-text.js";
import { type Paper, type PdfFlow, type PdfFonts, TEXT, type TextStyle } from "../pdf-flow.js";
import { setTable } from "../pdf-table.js";
import { madeAtText } from "../sections/notes.js";
import { type BoxedColumn, boxedTableHeightPt, setBoxedTable } from "./boxed-table.js";
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

/** Shares of the width: done, number, item, by, what to do, care, found. */
type Shares = readonly [number, number, number, number, number, number, number];
const ROOMY: Shares = [0.055, 0.035, 0.2, 0.075, 0.28, 0.225, 0.13];
/** Wide for long names, so that most of them stand on one line. */
const DENSE: Shares = [0.055, 0.035, 0.28, 0.065, 0.26, 0.215, 0.09];

/** Settings of the items from the largest to the smallest; the first that puts all of them on one side is taken. */
const SETTINGS: readonly { readonly style: TextStyle; readonly shares: Shares }[] = [
  { style: TEXT.table, shares: ROOMY },
  { style: TEXT.fine, shares: ROOMY },
  { style: TEXT.fine, shares: DENSE },
  { style: { ...TEXT.fine, sizePt: 6 }, shares: DENSE },
  { style: { ...TEXT.fine, sizePt: 5.5 }, shares: DENSE },
];

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

/** Room for the line that explains the beat, points. */
const BEAT_HELP_PT = 16;

function itemsPage(flow: PdfFlow, plan: CheckPlan, context: RunSheetPdfContext): void {
  flow.paragraph(`Run sheet, planned from ${context.profileSource}, ${madeAtText(context.madeAt)}`, TEXT.head, 0);
  flow.heading("H1", context.title, 60);
  flow.paragraph(planHeadline(plan), TEXT.body, 2);
  flow.paragraph(PLAN_CAUTIONS.join(" "), TEXT.fine, 5);
  flow.paragraph("Date ____________   Aircraft ____________   Checked by ______________________", TEXT.table, 4);
  const nameOf = planNames(plan);
  const columnsOf = ([done, number, item, by, task, care, found]: Shares): readonly BoxedColumn<PlannedItem>[] => [
    { title: "Done", share: done, cell: "box" },
    { title: "No.", share: number, cell: (_, i) => String(i + 1) },
    { title: "Item", share: item, cell: ({ load }) => nameOf(load.id), bold: true },
    { title: "By", share: by, cell: wayText },
    { title: "What to do or look for", share: task, cell: taskText },
    { title: "Take care", share: care, cell: (one) => careAndPlace(one, plan, nameOf) },
    { title: "Found, when", share: found, cell: "blank" },
  ];
  const roomPt = flow.bottomPt - flow.y - BEAT_HELP_PT;
  const fits = ({ style, shares }: (typeof SETTINGS)[number]) =>
    boxedTableHeightPt(flow, columnsOf(shares), plan.items, style) <= roomPt;
  const { style, shares } = SETTINGS.find(fits) ?? SETTINGS[SETTINGS.length - 1]!;
  setBoxedTable(flow, columnsOf(shares), plan.items, style);
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
