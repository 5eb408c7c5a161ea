import type { Analysis, BusItem, LoadAnswer } from "../core/index.js";
import { namesOf, plainLabel } from "./label-text.js";
import { formatDuration, formatPercent, formatPlain, formatQuantity } from "./number-format.js";
import { evidenceText, witnessText } from "./plan/whole-bus-words.js";
import type { ReportContext } from "./report-context.js";

/** What the draft says of the program's own part; in every entry, whatever the form. */
const NOT_SIGNED =
  "Drafted by a program, which signs for nobody and states nothing about the condition of the aircraft. The person entitled to make this entry completes, corrects and signs it.";

/**
 * The usual form: the elements of 14 CFR 43.9(a), people's fields blank. A shop under other rules gives its own form.
 *
 * Source: 14 CFR 43.9(a)(1) to (4); wording of AC 43-9C from memory.
 */
const USUAL_ENTRY_TEMPLATE = `DRAFT of a maintenance record entry (elements of 14 CFR 43.9(a))

Aircraft: {{aircraft}}    Bus: {{bus}}    Battery: {{battery}}

1. Description of the work, or reference to data acceptable to the Administrator
Loads were switched on and off on battery power alone while the bus voltage was recorded ({{recording}}: {{readings}} readings, {{duration}}). {{software}} judged the voltage dips at a false-alarm rate of {{falseAlarmRate}} per recording and a power of {{power}}:
{{verdicts}}
Approved data worked to (manual, chapter, revision): ______________________________

2. Date of completion of the work: ____________________

3. Person who performed the work, if other than the person who signs: ______________________________

4. Signature: ______________________________
   Certificate number: ____________________    Kind of certificate: ____________________

Evidence filed with this entry: the record (report.pdf or report.html) of {{recording}}, a log whose SHA-256 is {{sha256}}
`;

/** A finished draft, or what is wrong with the form and how to mend it. */
export type EntryDraft =
  | { readonly ok: true; readonly text: string }
  | { readonly ok: false; readonly line: number; readonly problem: string; readonly remedy: string };

/** Statements that only a licensed person may make; a form that makes them is refused. */
const RESERVED = /\bairworthy\b|\breturn(?:ed|ing)?\s+to\s+service\b/i;

/** Fills the form of a draft entry; fields stand in it as `{{name}}`. */
export function maintenanceEntry(
  analysis: Analysis,
  context: ReportContext,
  template: string = USUAL_ENTRY_TEMPLATE,
): EntryDraft {
  const fields = entryFields(analysis, context);
  const lines = template.replace(/\r\n?/g, "\n").split("\n");
  for (const [i, line] of lines.entries()) {
    const reserved = RESERVED.exec(line);
    if (reserved !== null) {
      return {
        ok: false,
        line: i + 1,
        problem: `the form says '${reserved[0]}', which only the licensed person may state`,
        remedy: "take it out of the form, and let that person write it into the record",
      };
    }
    for (const [written, name] of line.matchAll(/\{\{\s*([^{}]*?)\s*\}\}/g)) {
      if (fields.has(name!)) continue;
      return {
        ok: false,
        line: i + 1,
        problem: `there is no field ${written.slice(0, 60)}`,
        remedy: `write one of ${[...fields.keys()].map((key) => `{{${key}}}`).join(", ")}`,
      };
    }
  }
  const filled = lines.map((line) => line.replace(/\{\{\s*([^{}]*?)\s*\}\}/g, (_, name: string) => fields.get(name)!));
  return { ok: true, text: `${filled.join("\n").trimEnd()}\n\n${NOT_SIGNED}\n` };
}

function entryFields(analysis: Analysis, context: ReportContext): ReadonlyMap<string, string> {
  const { profile } = context;
  const blank = "____________________";
  const label = (text: string | undefined) => plainLabel(text ?? "", 80) || blank;
  const { detection, recording } = analysis;
  return new Map([
    ["aircraft", label(profile?.aircraft)],
    ["bus", label(profile?.bus)],
    ["battery", label(profile?.battery?.id)],
    ["recording", plainLabel(context.source, 120)],
    ["readings", recording.sampleCount.toLocaleString("en")],
    ["duration", formatDuration(recording.durationS)],
    ["verdicts", verdictLines(analysis, context)],
    ["falseAlarmRate", formatPercent(detection.falseAlarmRate)],
    ["power", formatPercent(detection.power)],
    ["software", `busdip ${plainLabel(context.softwareVersion)}`],
    ["made", plainLabel(context.madeAt)],
    ["sha256", context.sha256],
  ]);
}

function verdictLines(analysis: Analysis, { wholeBus }: ReportContext): string {
  const nameOf = namesOf(analysis.loads);
  const { source } = analysis.battery;
  const lines =
    wholeBus?.items.map(busLine) ??
    analysis.loads.map((load) => `- ${nameOf(load.id)}: ${load.verdict}${figures(load)}`);
  if (lines.length === 0) lines.push("- no loads were named, so none is judged");
  if (source !== null) {
    const resistance = formatQuantity(source.resistance, { coverage: true });
    lines.push(
      `- source resistance at the meter, ${formatPlain(source.atS, "s", { digits: 2 })} after the step: ${resistance}`,
    );
  }
  return lines.join("\n");
}

/** An item of the whole bus: what the meter told of it and what a person found. */
function busLine(item: BusItem): string {
  const { answer, tick } = item;
  const by = witnessText(item);
  const told = [
    ...(item.standing === "contradiction" ? ["contradiction"] : []),
    ...(answer === null ? [] : [`${answer.verdict}${figures(answer)}`]),
    ...(answer === null || tick !== null ? [evidenceText({ ...item, answer: null })] : []),
  ];
  return `- ${plainLabel(item.name)}: ${told.join("; ")}${by === "" ? "" : ` (${by})`}`;
}

function figures(load: LoadAnswer): string {
  const depth = load.depth === null ? "" : `; depth ${formatQuantity(load.depth, { coverage: true })}`;
  const current = load.current === null ? "" : `; current ${formatQuantity(load.current, { coverage: true })}`;
  return `${depth}${current}`;
}
