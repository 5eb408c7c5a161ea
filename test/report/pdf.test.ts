import { createHash } from "node:crypto";
import { describe, expect, it } from "vitest";
import { readReportFonts } from "../../src/cli/report-fonts.js";
import type { Analysis, Recording } from "../../src/core/index.js";
import { recordData } from "../../src/report/embedded-data.js";
import { formatQuantity, type ReportContext } from "../../src/report/index.js";
import { type Paper, renderPdfRecord } from "../../src/report/pdf.js";
import { drawable } from "../../src/report/pdf-text.js";
import { recordInputs } from "../../src/report/record-inputs.js";
import {
  curvesAt,
  everyFixture,
  hostileAnalysis,
  hostileContext,
  ice2Analysis,
  ice2Context,
} from "./analysis-fixtures.js";
import { ofType, pageTexts, pdfInside } from "./pdf-inside.js";

const fonts = await readReportFonts();
const given = {
  profileText: "loads: []\n",
  marksText: "time_s,load,action\n1,,on\n",
  options: { falseAlarmRate: 0.01, power: 0.95, markUncertaintyS: 0.2, seed: 1 },
  judgementSha256: "5".repeat(64),
};
/** Five minutes at 10 Hz with noise in the last places. */
const fiveMinutes: Recording = {
  timesS: Float64Array.from({ length: 3000 }, (_, i) => i / 10),
  voltagesV: Float64Array.from({ length: 3000 }, (_, i) => Math.round((24 + Math.sin(i * 7.7) / 50) * 1e4) / 1e4),
};
const render = (analysis: Analysis, context: ReportContext, paper: Paper = "A4") =>
  renderPdfRecord(analysis, {
    ...context,
    record: recordData(analysis, context, recordInputs(fiveMinutes, given)),
    fonts,
    paper,
  });
const plain = (text: string) => text.replace(/\u00a0/g, " ").replace(/\s+/g, " ");

describe("renderPdfRecord()", () => {
  it("sets the verdict table row by row, after the headline and before the cautions", async () => {
    const first = plain(pageTexts(pdfInside(await render(ice2Analysis, ice2Context)))[0]!);
    let at = first.indexOf("Answer");
    for (const load of ice2Analysis.loads) {
      for (const words of [load.name, load.verdict, formatQuantity(load.depth, { form: "compact" })]) {
        const next = first.indexOf(words, at);
        expect(next, words).toBeGreaterThan(at);
        at = next;
      }
    }
    expect(first.indexOf("Cautions")).toBeGreaterThan(at);
  });

  it("writes run, software, input hash and page number on every page", async () => {
    const pages = pageTexts(pdfInside(await render(ice2Analysis, ice2Context)));
    expect(pages.length).toBeGreaterThan(3);
    pages.forEach((text, i) => {
      expect(plain(text)).toContain(`page ${i + 1} of ${pages.length}`);
      expect(plain(text)).toMatch(/busdip 0\.1\.0, run [0-9a-f]{12}, recording SHA-256 [0-9a-f]{16}/);
    });
  });

  it("writes signs of volts, ohms and uncertainty as text", async () => {
    const text = plain(pageTexts(pdfInside(await render(ice2Analysis, ice2Context))).join(" "));
    for (const words of ["25.274 V ± 0.022 V (95 %)", "21.1 mΩ ± 2.0 mΩ (95 %)", "−2.36 mΩ/A", "Draft entry"]) {
      expect(text).toContain(words);
    }
  });

  it.each(["A4", "Letter"] as const)("fits on %s", async (paper) => {
    const boxes = ofType(pdfInside(await render(ice2Analysis, ice2Context, paper)), "Page").map(
      ({ dictionary }) => /\/MediaBox \[([^\]]*)\]/.exec(dictionary)![1],
    );
    // ISO 216 A4 is 210 mm by 297 mm, US Letter 8.5 in by 11 in; a point is 1/72 in.
    expect(new Set(boxes)).toEqual(new Set([paper === "A4" ? "0 0 595.28 841.89" : "0 0 612 792"]));
  });

  it("stays under 400 KB and 1.5 s of processor time for five minutes at 10 Hz", async () => {
    const analysis = { ...ice2Analysis, curves: curvesAt(10, 300) };
    const before = process.cpuUsage();
    const bytes = await render(analysis, ice2Context);
    expect(process.cpuUsage(before).user / 1e6).toBeLessThan(1.5);
    expect(bytes.length).toBeLessThan(400_000);
  });

  it("is the same for the same input", async () => {
    const [one, two] = [await render(ice2Analysis, ice2Context), await render(ice2Analysis, ice2Context)];
    expect(Buffer.compare(one, two)).toBe(0);
  });

  it.each(everyFixture)("of %s writes every label as text and draws no empty box", async (_, analysis, context) => {
    const text = pageTexts(pdfInside(await render(analysis, context))).join("");
    expect(text).not.toContain("\ufffd");
    expect(text.length).toBeGreaterThan(500);
  });

  it("shows hostile labels as text within the page", async () => {
    const inside = pdfInside(await render(hostileAnalysis, hostileContext));
    expect(plain(pageTexts(inside).join(" ")).replaceAll(" ", "")).toContain("<script>alert(");
    expect(inside.text).not.toMatch(/\/JavaScript|\/Launch|\/URI|\/OpenAction|\/Annots/);
  });
});

/** Rules of ISO 19005-3 that these bytes are held against; clause numbers from memory. */
describe("a PDF record after ISO 19005-3", () => {
  const made = render(ice2Analysis, ice2Context).then(pdfInside);

  it("6.1.2: begins with the header and a comment of four bytes above 127", async () => {
    expect((await made).text).toMatch(/^%PDF-1\.7\n%[\x80-\xff]{4}\n/);
  });

  it("6.1.3: the trailer has a file identifier and no encryption, nothing follows the end", async () => {
    const trailer = (await made).text.slice((await made).text.lastIndexOf("trailer"));
    expect(trailer).toMatch(/\/ID \[<[0-9a-f]{32}> <[0-9a-f]{32}>\]/);
    expect(trailer).not.toContain("/Encrypt");
    expect(trailer).toMatch(/%%EOF\n$/);
  });

  it("6.1.7: no LZW and no outside streams; every object stands at its offset", async () => {
    expect((await made).text).not.toMatch(/\/LZWDecode|\/FFilter|\/FDecodeParms/);
  });

  it("6.2.3, 6.2.4: one sRGB output intent with its profile, colours of DeviceRGB only, no transparency", async () => {
    const inside = await made;
    const intents = ofType(inside, "OutputIntent");
    expect(intents).toHaveLength(1);
    expect(intents[0]!.dictionary).toContain("/S /GTS_PDFA1");
    const profile = inside.objects.get(Number(/\/DestOutputProfile (\d+)/.exec(intents[0]!.dictionary)![1]))!;
    expect(profile.dictionary).toContain("/N 3");
    expect(profile.stream!.subarray(12, 24).toString("latin1")).toBe("mntrRGB XYZ ");
    expect(inside.text).not.toMatch(/\/DeviceCMYK|\/SMask|\/ca \d|\/CA \d|\/BM \//);
    const contents = [...inside.objects.values()].map(({ stream }) => stream?.toString("latin1") ?? "");
    for (const content of contents.filter((one) => / BDC/.test(one))) expect(content).not.toMatch(/^[\d. ]+ [kK]$/m);
  });

  it("6.2.11: every font is embedded, subset, with widths and a map to Unicode", async () => {
    const inside = await made;
    const descriptors = ofType(inside, "FontDescriptor");
    expect(descriptors.length).toBe(2);
    for (const { dictionary } of descriptors) expect(dictionary).toMatch(/\/FontFile2 \d+ 0 R/);
    const composite = [...inside.objects.values()].filter(({ dictionary }) => dictionary.includes("/Subtype /Type0"));
    expect(composite.length).toBe(2);
    for (const { dictionary } of composite) {
      expect(dictionary).toContain("/Encoding /Identity-H");
      expect(dictionary).toMatch(/\/ToUnicode \d+ 0 R/);
      expect(dictionary).toMatch(/\/BaseFont \/[A-Z]{6}\+DejaVuSans/);
    }
    for (const one of inside.objects.values()) {
      if (!one.dictionary.includes("/Subtype /CIDFontType2")) continue;
      expect(one.dictionary).toMatch(/\/CIDToGIDMap/);
      expect(one.dictionary).toMatch(/\/W \[/);
    }
  });

  it("6.2.11.8: no text refers to the glyph .notdef", async () => {
    for (const { stream } of (await made).objects.values()) {
      for (const [, shown] of (stream?.toString("latin1") ?? "").matchAll(/\[([^\]]*)\] TJ/g)) {
        for (const [, hex] of shown!.matchAll(/<([0-9a-f]*)>/g))
          expect(hex!.match(/.{4}/g) ?? []).not.toContain("0000");
      }
    }
  });

  it("6.6: the metadata are plain XMP that name part 3, level A, and agree with the information dictionary", async () => {
    const inside = await made;
    const metadata = ofType(inside, "Metadata")[0]!;
    expect(metadata.dictionary).not.toContain("/Filter");
    const xmp = metadata.stream!.toString("utf8");
    expect(xmp).toContain("<pdfaid:part>3</pdfaid:part>");
    expect(xmp).toContain("<pdfaid:conformance>A</pdfaid:conformance>");
    expect(xmp).toContain("ICE-2, essential bus: voltage-dip record");
    expect(xmp).toContain("<xmp:CreatorTool>busdip 0.1.0</xmp:CreatorTool>");
    expect(xmp).toContain("<pdf:Producer>busdip 0.1.0</pdf:Producer>");
    expect(inside.text).toContain("(ICE-2, essential bus: voltage-dip record)");
    const madeAt = ice2Context.madeAt.replace(/\.\d+Z/, "Z");
    expect(xmp).toContain(`<xmp:CreateDate>${madeAt}</xmp:CreateDate>`);
    expect(inside.text).toContain(`(D:${madeAt.replace(/[-:TZ]/g, "")}Z)`);
  });

  it("6.7: the document is tagged, has a language, and its figures have alternative text", async () => {
    const inside = await made;
    const catalog = ofType(inside, "Catalog")[0]!.dictionary;
    expect(catalog).toMatch(/\/Lang \(en\)/);
    expect(catalog).toMatch(/\/StructTreeRoot \d+ 0 R/);
    expect([...inside.objects.values()].some(({ dictionary }) => /\/Marked true/.test(dictionary))).toBe(true);
    const figures = [...inside.objects.values()].filter(({ dictionary }) => /\/S \/Figure\b/.test(dictionary));
    expect(figures.length).toBeGreaterThan(2);
    for (const { dictionary } of figures) expect(dictionary).toMatch(/\/Alt \(.{40,}/s);
  });

  it("6.8: every attachment is associated, typed, dated and whole", async () => {
    const inside = await made;
    const catalog = ofType(inside, "Catalog")[0]!.dictionary;
    const associated = [.../\/AF \[([^\]]*)\]/.exec(catalog)![1]!.matchAll(/(\d+) 0 R/g)].map(([, id]) => Number(id));
    const specs = associated.map((id) => inside.objects.get(id)!.dictionary);
    const names = specs.map((spec) => /\/UF \(([^)]*)\)/.exec(spec)![1]);
    expect(names.sort()).toEqual(["marks.csv", "profile.yaml", "recording.csv", "result.json"]);
    for (const spec of specs) {
      expect(spec).toMatch(/\/AFRelationship \/(Source|Data|Supplement)/);
      expect(spec).toMatch(/\/F \([a-z.]+\)/);
      const file = inside.objects.get(Number(/\/EF <<\s*\/F (\d+)/.exec(spec)![1]))!;
      expect(file.dictionary).toMatch(/\/Subtype \/(text#2Fcsv|application#2F(json|yaml))/);
      expect(file.dictionary).toMatch(/\/ModDate \(D:/);
      expect(file.dictionary).toContain(`(${createHash("md5").update(file.stream!).digest("hex")})`);
    }
  });
});

describe("drawable()", () => {
  it("writes a sign without a glyph as its number and leaves invisible ones out", () => {
    const ascii = (codePoint: number) => codePoint < 128;
    expect(drawable("a\u202eb\u200bc\n\u{1f525}", ascii)).toBe("abc [U+1F525]");
  });
});
