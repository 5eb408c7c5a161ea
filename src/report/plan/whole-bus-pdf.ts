import type { WholeBus } from "../../core/index.js";
import { type Paper, type PdfFonts, TEXT } from "../pdf-flow.js";
import { setTable } from "../pdf-table.js";
import { plainPdf } from "./plain-pdf.js";
import { PLAN_CAUTIONS } from "./plan-cautions.js";
import { factsText, type WholeBusContext } from "./whole-bus-report.js";
import { WHOLE_BUS_HEAD, wholeBusHeadline, wholeBusRows } from "./whole-bus-words.js";

/** The account on paper. */
export async function renderWholeBusPdf(
  bus: WholeBus,
  context: WholeBusContext & { readonly fonts: PdfFonts; readonly paper?: Paper },
): Promise<Uint8Array> {
  return plainPdf({ ...context, kind: "Whole bus" }, (flow) => {
    flow.paragraph(`Whole bus. ${factsText(context)}`, TEXT.head, 0);
    flow.heading("H1", context.title, 60);
    flow.paragraph(wholeBusHeadline(bus), TEXT.lead, 5);
    setTable(flow, {
      head: WHOLE_BUS_HEAD,
      rows: wholeBusRows(bus),
      style: bus.items.length > 20 ? TEXT.fine : TEXT.table,
    });
    flow.paragraph(PLAN_CAUTIONS.join(" "), TEXT.fine);
  });
}
