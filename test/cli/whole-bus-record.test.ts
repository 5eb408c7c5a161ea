import { describe, expect, it } from "vitest";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { analyze, wholeBus } from "../../src/core/index.js";
import { readProfile } from "../../src/importers/profile/profile.js";
import { readTickedSheet } from "../../src/importers/run-sheet/ticked-sheet.js";
import { recordData } from "../../src/report/embedded-data.js";
import { renderHtmlRecord } from "../../src/report/html.js";
import { maintenanceEntry } from "../../src/report/maintenance-entry.js";
import { renderPdfRecord } from "../../src/report/pdf.js";
import { recordInputs } from "../../src/report/record-inputs.js";
import { renderSeveralHtml } from "../../src/report/several-html.js";
import { renderSeveralPdf } from "../../src/report/several-pdf.js";
import { pageTexts, pdfInside } from "../report/pdf-inside.js";
import { smallCheck, smallRecording } from "./small-check.js";
import { fonts, marks, means, plotlySource, context as smallContext, given as smallGiven } from "./small-record.js";

const profileText = `${smallCheck["bus.yaml"]}  - { id: lamp, name: Cabin lamp, kind: resistive, shows: seen }
  - { id: horn, name: Horn, kind: resistive, shows: heard }
`;
const profile = readProfile(profileText, "bus.yaml");
const sheetText =
  "by: K\nitems:\n  - { item: lamp, found: seen, when: '10:05', note: '<b>dim</b>' }\n  - { item: probe, found: felt }\n";
const analysis = analyze(smallRecording, { marks, profile, ...smallGiven.options });

/** A record whose account follows one sheet and which carries another, unless they are the same. */
function whole(accounted = sheetText, carried = sheetText) {
  const { ticks } = readTickedSheet(accounted, "check.yaml", profile);
  const context = { ...smallContext, profile, profileText, wholeBus: wholeBus(profile, analysis, ticks) };
  const record = recordData(
    analysis,
    context,
    recordInputs(smallRecording, { ...smallGiven, profileText, sheetText: carried }),
  );
  return { analysis, context, record };
}
type Whole = ReturnType<typeof whole>;

const DRAWINGS = {
  "report.html": ({ context, record }: Whole) => renderHtmlRecord(analysis, { ...context, plotlySource, record }),
  "report.pdf": ({ context, record }: Whole) => renderPdfRecord(analysis, { ...context, fonts, record }),
  "several.html": (one: Whole) => renderSeveralHtml([one, one], { plotlySource }),
  "several.pdf": (one: Whole) => renderSeveralPdf([one, one], { fonts }),
};
const names = ["report.html", "report.pdf", "several.html", "several.pdf"] as const;
const changed = async (name: (typeof names)[number], one: Whole) =>
  (await checkRecord(name, await DRAWINGS[name](one), means)).lines.filter((line) => line.state === "changed");

describe("checkRecord() of a record with the account of a whole bus", () => {
  it.each(names)("finds %s intact, its ticked sheet carried and accounted for again", async (name) => {
    const found = await checkRecord(name, await DRAWINGS[name](whole()), means);
    expect(found.lines.filter((line) => line.state === "changed")).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("intact");
    expect([...found.files].find(([file]) => file.endsWith("check.yaml"))![1]).toBe(sheetText);
    expect(found.claims.some(({ place }) => place.endsWith("wholeBus.items[lamp].standing"))).toBe(true);
  });

  it("finds result.json intact beside its readings", async () => {
    const { record } = whole();
    const bytes = new TextEncoder().encode(record.resultText);
    const lines = (await checkRecord("result.json", bytes, means)).lines;
    expect(lines).toContainEqual({ what: "check.yaml", state: "holds", detail: "as the result names it" });
  });

  it.each(names)("names in %s an item whose tick the carried sheet does not bear", async (name) => {
    const faults = await changed(name, whole(sheetText, sheetText.replace("found: seen", "found: not")));
    const details = faults.map((line) => line.detail).join("\n");
    expect(details).toContain('wholeBus.items[lamp].standing is "answered", computed again "silent"');
  });

  it.each(names)("names in %s a sheet that was swapped for another", async (name) => {
    const one = whole();
    const swapped = { ...one.record, inputs: { ...one.record.inputs, sheetText: sheetText.replace("10:05", "10:06") } };
    const faults = await changed(name, { ...one, record: swapped });
    expect(faults.map((line) => line.what.replace(/^1: /, ""))).toContain("check.yaml");
  });
});

describe("a record with the account of a whole bus", () => {
  it("lists every item on the first page, before the cautions, as text", async () => {
    const [first] = pageTexts(pdfInside(await DRAWINGS["report.pdf"](whole())));
    const text = first!.replace(/\s+/g, " ");
    let at = 0;
    for (const words of [
      "2 of 3 items answered",
      "Heated probe",
      "Cabin lamp",
      "<b>dim</b>",
      "K, 10:05",
      "Horn",
      "Cautions",
    ]) {
      const next = text.indexOf(words, at);
      expect(next, words).toBeGreaterThanOrEqual(at);
      at = next;
    }
    expect(text).toContain("no evidence: not listened for");
  });

  it("says in the draft entry what the meter told and what was seen", () => {
    const { context } = whole();
    const draft = maintenanceEntry(analysis, context);
    const lines = draft.ok ? draft.text.split("\n") : [];
    expect(lines).toContain("- Cabin lamp: seen (<b>dim</b>) (K, 10:05)");
    expect(lines).toContain("- Horn: no evidence: not listened for");
    expect(lines.find((line) => line.startsWith("- Heated probe"))).toMatch(
      /^- Heated probe: responded; depth .* \(95 %\).*; felt \(K\)$/,
    );
  });
});
