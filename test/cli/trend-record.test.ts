import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { importHistoryFile } from "../../src/cli/history-import.js";
import { readPlotlySource } from "../../src/cli/report-files.js";
import { judgementSha256, softwareVersion } from "../../src/cli/software-version.js";
import { judgeTrends, writeReport } from "../../src/cli/trend.js";
import { conclusionOf } from "../../src/cli/verify.js";
import { checkRecord } from "../../src/cli/verify-record.js";
import type { SeriesTrend } from "../../src/core/index.js";
import type { BatteryStory } from "../../src/report/index.js";
import { sealed, withoutSeal } from "../../src/report/seal.js";
import { renderTrendPdf } from "../../src/report/trend-pdf.js";
import type { TrendInputs } from "../../src/report/trend-record.js";
import { ofType, pageTexts, pdfInside } from "../report/pdf-inside.js";
import { fonts, means as usual } from "./small-record.js";

const folder = mkdtempSync(join(tmpdir(), "busdip-test-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const store = join(folder, "history.db");
await importHistoryFile(new URL("../../samples/history/ice-2-history.json", import.meta.url).pathname, store);
const means = {
  ...usual,
  softwareVersion: softwareVersion(),
  judgementSha256: judgementSha256(),
  plotlySource: readPlotlySource,
};

async function trendFile(battery: string | undefined, name: string, paper?: "Letter"): Promise<Uint8Array> {
  const out = join(folder, `${battery ?? "fleet"}-${paper ?? "A4"}`);
  const writing = paper === undefined ? {} : { paper };
  await writeReport(await judgeTrends(battery, { store, out, limitPercent: 30 }), out, writing);
  return readFileSync(join(out, name));
}

const page = await trendFile("B-0417", "trend.html");
const paper = await trendFile("B-0417", "trend.pdf");
const text = new TextDecoder().decode(withoutSeal(page, "html"));
const resealed = (other: string) => sealed(new TextEncoder().encode(other), "html");
const changed = async (bytes: Uint8Array, name = "trend.html") =>
  (await checkRecord(name, bytes, means)).lines.filter((line) => line.state === "changed");

/** The trend as judged here, so that a record at odds with itself can be drawn. */
async function judged() {
  const { stories, context, inputs } = await judgeTrends("B-0417", { store, out: folder, limitPercent: 30 });
  return { context, one: stories[0]!, inputs: inputs! };
}

const deeper = (series: SeriesTrend): SeriesTrend => ({
  ...series,
  judgement: {
    ...series.judgement,
    level: { ...series.judgement.level!, value: series.judgement.level!.value * 1.01 },
  },
});

describe("checkRecord() of a trend record", () => {
  it.each([
    ["B-0417", "trend.html"],
    [undefined, "trend.html"],
    ["B-0417", "trend.pdf"],
    [undefined, "trend.pdf"],
  ])("computes the trend of %s in %s again from the history inside, and finds it intact", async (battery, name) => {
    const found = await checkRecord(name, await trendFile(battery, name), means);
    expect(found.lines.filter((line) => line.state === "changed")).toEqual([]);
    expect(conclusionOf(found.lines)).toBe("intact");
    expect(found.claims.filter((claim) => typeof claim.claimed === "number").length).toBeGreaterThan(50);
    expect([...found.files.keys()]).toEqual(["history.json"]);
    expect(found.lines).toContainEqual(expect.objectContaining({ what: "text and figures", state: "holds" }));
  });

  it("attaches trend and history to the PDF, each associated, typed and whole", async () => {
    const inside = pdfInside(paper);
    const catalog = ofType(inside, "Catalog")[0]!.dictionary;
    const associated = [.../\/AF \[([^\]]*)\]/.exec(catalog)![1]!.matchAll(/(\d+) 0 R/g)].map(([, id]) => Number(id));
    const specs = associated.map((id) => inside.objects.get(id)!.dictionary);
    expect(specs.map((spec) => /\/UF \(([^)]*)\)/.exec(spec)![1]).sort()).toEqual(["history.json", "trend.json"]);
    for (const spec of specs) {
      expect(spec).toMatch(/\/AFRelationship \/(Source|Data)/);
      const file = inside.objects.get(Number(/\/EF <<\s*\/F (\d+)/.exec(spec)![1]))!;
      expect(file.dictionary).toContain("/Subtype /application#2Fjson");
      expect(JSON.parse(file.stream!.toString("utf8"))).toBeTypeOf("object");
    }
    expect(pageTexts(inside)[0]!.replace(/\s+/g, " ")).toMatch(/Battery B-0417 .*Answer .*control limit .*Cautions/);
  });

  it("finds one on Letter paper intact", async () => {
    const letter = await trendFile("B-0417", "trend.pdf", "Letter");
    expect(conclusionOf((await checkRecord("trend.pdf", letter, means)).lines)).toBe("intact");
    expect(new TextDecoder("latin1").decode(letter)).toContain("/MediaBox [0 0 612 792]");
  });

  it("names a changed number of the trend, though sealed anew", async () => {
    const level = /("battery":"B-0417"[\s\S]*?"value":)(\d+\.\d+)/.exec(text)!;
    const other = text.replace(level[0], `${level[1]}${(Number(level[2]) * 1.01).toFixed(6)}`);
    const faults = await changed(resealed(other));
    expect(faults.map((line) => line.what)).toContain("result");
    expect(faults[0]!.detail).toMatch(/^batteries\[1\].*computed again/);
  });

  it("names a changed reading of the history, though its hash is the only thing left as it was", async () => {
    const other = text.replace(/\\"value\\": (0\.0\d+)/, (all, value: string) => all.replace(value, `${value}1`));
    expect(other).not.toBe(text);
    expect((await changed(resealed(other))).map((line) => line.what)).toContain("history.json");
  });

  it("names a changed word of the page", async () => {
    const other = text.replace('<h2 id="answer-h">Answer</h2>', '<h2 id="answer-h">All well</h2>');
    expect(other).not.toBe(text);
    const faults = await changed(resealed(other));
    expect(faults).toHaveLength(1);
    expect(faults[0]).toMatchObject({ what: "text and figures", detail: expect.stringContaining("All well") });
  });

  it("names a changed number, a changed reading and a changed page of the PDF, though sealed anew", async () => {
    const { context, one, inputs } = await judged();
    const render = (other: { story?: BatteryStory; inputs?: TrendInputs }) =>
      renderTrendPdf(other.story ?? one, { ...context, fonts: fonts, inputs: other.inputs ?? inputs });
    const stated = { ...one, series: one.series.map((series, i) => (i === 0 ? deeper(series) : series)) };
    const numbers = await changed(await render({ story: stated }), "trend.pdf");
    expect(numbers.map((line) => line.what)).toContain("result");
    expect(numbers.find((line) => line.what === "result")!.detail).toMatch(
      /^batteries\[1\]\.series\[1\].*computed again/,
    );
    expect(numbers.map((line) => line.what)).toContain("text and figures");
    const historyText = inputs.historyText.replace(/"value": (0\.0\d+)/, (_, value: string) => `"value": ${value}1`);
    expect(historyText).not.toBe(inputs.historyText);
    const readings = await changed(await render({ inputs: { ...inputs, historyText } }), "trend.pdf");
    expect(readings.map((line) => line.what)).toContain("result");
  });

  it("sees a single changed byte by the seal", async () => {
    for (const [name, whole] of [
      ["trend.html", page],
      ["trend.pdf", paper],
    ] as const) {
      const other = Uint8Array.from(whole);
      other[20_000] = other[20_000]! ^ 1;
      expect((await changed(other, name)).map((line) => line.what)).toContain("seal");
    }
  });
});
