import type { Analysis } from "../core/index.js";
import { assumptionText, cautionText, type ReportContext, verdictReasonText } from "../report/index.js";

/** What `--explain` adds to the summary: how the log was understood, why each verdict, what was assumed, the cautions. */
export function explanation(analysis: Analysis, context: ReportContext): string {
  const nameOf = (id: string) => analysis.loads.find((load) => load.id === id)?.name ?? id;
  return [
    part("How the recording was understood", context.understood),
    part(
      "Why each verdict",
      analysis.loads.map((load) => `${load.name}: ${load.verdict}. ${verdictReasonText(load)}`),
    ),
    part(
      "What was assumed",
      analysis.assumptions.map((one) => assumptionText(one, nameOf)),
    ),
    part("Cautions in full", analysis.cautions.map(cautionText)),
  ].join("");
}

function part(heading: string, sentences: readonly string[]): string {
  if (sentences.length === 0) return "";
  return `\n${heading}\n${sentences.map((sentence) => `  - ${sentence}\n`).join("")}`;
}
