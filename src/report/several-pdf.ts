import { cautionText } from "./messages.js";
import { attachFiles, runNumber, sealedPdf, setRecord } from "./pdf.js";
import { type Paper, type PdfFonts, TEXT } from "./pdf-flow.js";
import { setTable } from "./pdf-table.js";
import { madeAtText } from "./sections/notes.js";
import {
  newestMoment,
  type OneRecord,
  SEVERAL_HEAD,
  severalHeadline,
  severalLegend,
  severalRows,
  severalSigns,
  severalTitle,
} from "./several-records.js";

/**
 * Several records as one PDF/A-3a file: all answers on the first page, then each record in full, with the files of record
 * `n` attached as `n-recording.csv` and so on. The same records give the same bytes.
 */
export async function renderSeveralPdf(
  records: readonly OneRecord[],
  { fonts, paper }: { readonly fonts: PdfFonts; readonly paper?: Paper },
): Promise<Uint8Array> {
  const softwareVersion = records[0]!.context.softwareVersion;
  const heading = {
    title: `${severalTitle(records)}: voltage-dip records`,
    subject: severalHeadline(records),
    softwareVersion,
    madeAt: newestMoment(records),
    fonts,
    ...(paper === undefined ? {} : { paper }),
  };
  const run = `${records.length} recordings, runs ${records
    .map(({ record }) => runNumber(record).slice(0, 6))
    .slice(0, 8)
    .join(" ")}.`;
  return await sealedPdf(heading, run, (flow) => {
    flow.rule("ink", 2);
    flow.space(6);
    flow.paragraph("Voltage-dip records", TEXT.aside, 0);
    flow.heading("H1", severalTitle(records));
    flow.paragraph(`Made into this record ${madeAtText(heading.madeAt)}.`, TEXT.aside);
    flow.rule("ink");
    flow.heading("H2", "Answers");
    flow.paragraph(severalHeadline(records), TEXT.lead, 6);
    setTable(flow, {
      head: SEVERAL_HEAD,
      rows: severalRows(records),
      signs: { column: 2, verdicts: severalSigns(records) },
    });
    const legend = severalLegend(records);
    if (legend !== "") flow.paragraph(legend, TEXT.aside);
    flow.heading("H2", "Cautions");
    flow.list([...new Set(records.flatMap(({ analysis }) => analysis.cautions.map(cautionText)))]);
    const contexts = records.map(({ context, record }) => ({ ...context, record, fonts }));
    records.forEach(({ analysis }, i) => {
      flow.newPage();
      flow.paragraph(`Record ${i + 1} of ${records.length}`, TEXT.strong);
      setRecord(flow, analysis, contexts[i]!);
    });
    return () => {
      contexts.forEach((context, i) => {
        attachFiles(flow.doc, context, `${i + 1}-`);
      });
    };
  });
}
