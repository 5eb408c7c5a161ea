import { describe, expect, it } from "vitest";
import { conclusionOf } from "../../src/cli/verify.js";
import type { CheckLine } from "../../src/cli/verify-line.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import { recordData } from "../../src/report/embedded-data.js";
import { sealed, withoutSeal } from "../../src/report/seal.js";
import { renderSeveralHtml } from "../../src/report/several-html.js";
import { renderSeveralPdf } from "../../src/report/several-pdf.js";
import { smallCheck, smallRecording } from "./small-check.js";
import { analysis, context, deeper, fonts, means, plotlySource, record } from "./small-record.js";

const one = { analysis, context, record: record() };
/** A record whose result claims another depth than its readings give. */
const claimed = { analysis: deeper, context, record: record({ analysis: deeper }) };
const htmlOf = (records: readonly (typeof one)[]) => renderSeveralHtml(records, { plotlySource });
const pdfOf = (records: readonly (typeof one)[]) => renderSeveralPdf(records, { fonts });
const changed = (lines: readonly CheckLine[]) => lines.filter((line) => line.state === "changed");
const textOf = (bytes: Uint8Array) => new TextDecoder().decode(bytes);

describe("checkRecord() of several records in one file", () => {
  it.each(["html", "pdf"] as const)("finds a %s of three intact, each number of each computed again", async (kind) => {
    const bytes = kind === "html" ? htmlOf([one, one, one]) : await pdfOf([one, one, one]);
    const found = await checkRecord(`report.${kind}`, bytes, means);
    expect(changed(found.lines)).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("intact");
    expect(found.again).toHaveLength(3);
    expect([...found.files.keys()].filter((name) => name.startsWith("3-")).sort()).toEqual([
      "3-marks.csv",
      "3-profile.yaml",
      "3-recording.csv",
      "3-result.json",
    ]);
    expect(found.claims.filter(({ place }) => place.startsWith("2: ")).length).toBeGreaterThan(50);
  });

  it.each(["html", "pdf"] as const)("names the record of a %s whose number does not hold", async (kind) => {
    const bytes = kind === "html" ? htmlOf([one, claimed]) : await pdfOf([one, claimed]);
    const found = await checkRecord(`report.${kind}`, bytes, means);
    expect(conclusionOf(found.lines)).toBe("changed");
    const faults = changed(found.lines);
    expect(faults[0]!.what).toBe("2: result");
    expect(faults[0]!.detail).toMatch(/^loads\[probe\]\.depth_V is 0\.\d+, computed again 0\.\d+$/);
    expect(faults.some((line) => line.what.startsWith("1: "))).toBe(false);
  });

  it("names swapped readings and a changed word of the first page, though sealed anew", async () => {
    const swapped = record({
      recording: {
        ...smallRecording,
        voltagesV: smallRecording.voltagesV.map((volts, i) => (i === 7 ? volts + 1e-9 : volts)),
      },
    });
    const mixed = { ...one, record: { ...one.record, inputs: swapped.inputs } };
    expect(
      changed((await checkRecord("r.html", htmlOf([one, mixed]), means)).lines).map((line) => line.what),
    ).toContain("2: recording.csv");
    const page = textOf(withoutSeal(htmlOf([one, one]), "html"));
    const other = page.replace("2 recordings, 2 loads: 2 responded.", "2 recordings, 2 loads: 2 no response.");
    expect(other).not.toBe(page);
    const found = await checkRecord("r.html", sealed(new TextEncoder().encode(other), "html"), means);
    expect(changed(found.lines).map((line) => line.what)).toEqual(["text and figures"]);
  });

  it("is open as long as one of the records cannot be computed again", async () => {
    const { inputs } = one.record;
    const tooMany = { ...inputs.recordingFile, text: null, bytes: 20_000_001 };
    const without = recordData(analysis, context, { ...inputs, recordingFile: tooMany });
    const found = await checkRecord("r.html", htmlOf([one, { ...one, record: without }]), means);
    expect(conclusionOf(found.lines)).toBe("open");
    expect(found.again).toBeNull();
  });

  it("is broken by any of 60 single-bit changes of a page and a PDF", async () => {
    const all: readonly [string, Uint8Array][] = [
      ["r.html", htmlOf([one, one])],
      ["r.pdf", await pdfOf([one, one])],
    ];
    for (const [, bytes] of all) {
      for (let i = 0; i < 30; i += 1) {
        const at = 2000 + Math.floor(((bytes.length - 4000) * i) / 30);
        const other = Uint8Array.from(bytes);
        other[at] = other[at]! ^ 1;
        const { readSeal } = await import("../../src/report/seal.js");
        const seal = readSeal(other, bytes === all[0]![1] ? "html" : "pdf");
        expect(seal === null || seal.found !== seal.due).toBe(true);
      }
    }
  });
});

describe("renderSeveralHtml()", () => {
  const page = textOf(htmlOf([one, one]));

  it("names every part once, and points to nothing that is not there", () => {
    const ids = [...page.matchAll(/ id="([^"]+)"/g)].map((match) => match[1]!);
    expect(new Set(ids).size).toBe(ids.length);
    const targets = [...page.matchAll(/(?:href="#|aria-labelledby="|url\(#)([^")]+)/g)].map((match) => match[1]!);
    expect(targets.filter((target) => !ids.includes(target) && target !== "hatch")).toEqual([]);
  });

  it("shows all answers before the first record", () => {
    const answers = page.indexOf('id="answers"');
    expect(answers).toBeGreaterThan(0);
    expect(answers).toBeLessThan(page.indexOf('id="record-1"'));
    expect(page.slice(answers, page.indexOf('id="record-1"')).match(/Heated probe/g)).toHaveLength(2);
  });

  it("carries labels as text", () => {
    const evil = { ...one, context: { ...context, source: '<script>alert("x")</script> id="answers"' } };
    const other = textOf(htmlOf([evil, one]));
    expect(other).not.toContain("<script>alert");
    expect(other.match(/ id="answers"/g)).toHaveLength(1);
  });
});

describe("renderSeveralPdf()", () => {
  it("gives the same bytes for the same records, each with its profile", async () => {
    expect(await pdfOf([one, one])).toEqual(await pdfOf([one, one]));
    expect(smallCheck["bus.yaml"]).toContain("probe");
  });
});
