import type { Analysis } from "../../core/index.js";
import { carriedFiles, type RecordData } from "../embedded-data.js";
import { maintenanceEntry } from "../maintenance-entry.js";
import { type Markup, markup, verbatim } from "../markup.js";
import { formatPercent, formatPlain } from "../number-format.js";
import type { ReportContext } from "../report-context.js";
import { sha256Hex } from "../seal.js";
import { tableMarkup } from "./figures.js";

/** The draft entry, people's fields blank. */
export function entrySection(analysis: Analysis, context: ReportContext, data: RecordData): Markup {
  const draft = maintenanceEntry(analysis, context, data.inputs.entryTemplate ?? undefined);
  return markup`<section id="entry" class="wide" aria-labelledby="entry-h"><h2 id="entry-h">Draft entry</h2><div class="body">
<pre tabindex="0" dir="auto">${verbatim(draft.ok ? draft.text : draft.problem)}</pre></div></section>`;
}

/** What this file carries, and how it can be checked later. */
export function recordSection(data: RecordData): Markup {
  return markup`<section id="record" class="wide" aria-labelledby="record-h"><h2 id="record-h">This record</h2><div class="body">
${tableMarkup({ head: ["Carried in this file", "What", "Bytes", "SHA-256"], rows: carriedRows(data) }, "Carried files")}
${recordSentences(data).map((sentence) => markup`<p class="aside">${sentence}</p>`)}</div></section>`;
}

/** One row for each carried file: name, what it is, size, hash. */
export function carriedRows(data: RecordData): string[][] {
  return carriedFiles(data).map((file) => [
    file.name,
    file.about,
    new TextEncoder().encode(file.text).length.toLocaleString("en"),
    sha256Hex(file.text),
  ]);
}

/** How the record can be checked, and what the check is worth. */
export function recordSentences({ inputs }: RecordData): readonly string[] {
  const { falseAlarmRate, power, markUncertaintyS, seed } = inputs.options;
  const given =
    inputs.recordingFile.text === null
      ? ["The readings are too many to be carried here: keep the log, and give it with --recording to verify."]
      : [];
  return [
    ...given,
    `Judged with false-alarm rate ${formatPercent(falseAlarmRate)}, power ${formatPercent(power)}, marked times right within ${formatPlain(markUncertaintyS, "s")} (standard uncertainty), seed ${seed}, program files of the judgement ${inputs.judgementSha256.slice(0, 8)} (beginning of their SHA-256). The same inputs and the same program give the same numbers.`,
    "To check it: busdip verify, with this file, computes every number again from what the file carries and compares the text. Anyone can make such a file, so the check shows whether it agrees with itself, not who made it; a shop's own key (--sign) shows that.",
  ];
}
