import { parse } from "node-html-parser";
import { describe, expect, it } from "vitest";
import type { Analysis } from "../../src/core/index.js";
import { formatQuantity, type ReportContext, renderHtmlReport, resultSchema } from "../../src/report/index.js";
import { PAGE_SCRIPT } from "../../src/report/page-script.js";
import {
  curvesAt,
  everyFixture,
  hostileAnalysis,
  hostileContext,
  ice2Analysis,
  ice2Context,
} from "./analysis-fixtures.js";

const plotlySource = 'var Plotly = {}; // "</script>" and "<!--" and "<script>" in a library';
const render = (analysis: Analysis, context: ReportContext) => renderHtmlReport(analysis, { ...context, plotlySource });
/** The page as text a person reads, no-break spaces as spaces. */
const textOf = (html: string) =>
  parse(html)
    .querySelector("body")!
    .text.replace(/&#(\d+);/g, (_, n) => String.fromCharCode(Number(n)))
    .replace(/\u00a0/g, " ");
const scriptsOf = (html: string) =>
  [...html.matchAll(/<script([^>]*)>([\s\S]*?)<\/script/gi)].map((m) => ({ attributes: m[1]!, text: m[2]! }));

describe("renderHtmlReport()", () => {
  it("writes every load with its verdict and its figures", () => {
    const page = parse(render(ice2Analysis, ice2Context));
    const answers = page.querySelectorAll(".answer").map((node) => node.text.replace(/\u00a0/g, " "));
    expect(answers).toHaveLength(ice2Analysis.loads.length);
    ice2Analysis.loads.forEach((load, i) => {
      expect(answers[i]).toContain(load.name);
      expect(answers[i]).toContain(load.verdict);
      expect(answers[i]).toContain(formatQuantity(load.depth, { form: "compact" }));
      expect(answers[i]).toContain(
        load.current === null ? "not identifiable" : formatQuantity(load.current, { form: "compact" }),
      );
    });
  });

  it("says of which switchings its limits are where their times were searched for", () => {
    const detection = { ...ice2Analysis.detection, limitsOf: { switchingCount: 3, onS: 5, offS: 5 } };
    const told = textOf(render({ ...ice2Analysis, detection }, ice2Context));
    const ofWhich = "the limits are those of one rhythm, without a cold start";
    expect(told).toContain(`${ofWhich}: 3 switchings of 5 s, 5 s apart, would be`);
    expect(textOf(render(ice2Analysis, ice2Context))).not.toContain(ofWhich);
  });

  it("writes each dip, the battery, each budget row and every note", () => {
    const text = textOf(render(ice2Analysis, ice2Context));
    for (const dip of ice2Analysis.dips) {
      expect(text).toContain(`${dip.onsetS.toFixed(2)} s`);
      expect(text).toContain(formatQuantity(dip.depth, { form: "compact" }));
    }
    for (const words of [
      "25.274 V ± 0.022 V (95 %)",
      "21.1 mΩ ± 2.0 mΩ (95 %)",
      "18.1 mΩ, u = 1.1 mΩ",
      "Rating of the reference load",
      "−2.36 mΩ/A",
      "Known source resistance",
      "not identifiable: the battery's temperature was not given",
      "The noise changes by a factor of 2.3",
      "Advisory only",
      "2,720 rows read, none left out.",
      "ice-2-ramp.csv",
      ice2Context.sha256,
      "2026-11-03 14:05 UTC",
      "busdip 0.1.0",
    ]) {
      expect(text).toContain(words);
    }
  });

  it("answers first, then cautions, then figures and tables", () => {
    const sections = parse(render(ice2Analysis, ice2Context))
      .querySelectorAll("section")
      .map((node) => node.id);
    expect(sections).toEqual(
      "answer cautions figures verdicts dips battery budgets doubts assumptions readings provenance".split(" "),
    );
  });

  it.each(everyFixture)("of %s loads nothing and runs nothing but its own four scripts", (_, analysis, context) => {
    const html = render(analysis, context);
    const page = parse(html);
    expect(scriptsOf(html)).toHaveLength(4);
    expect(page.querySelectorAll("link, img, iframe, object, embed, base, form")).toEqual([]);
    expect(page.querySelectorAll("[src], [srcset], [background]")).toEqual([]);
    for (const link of page.querySelectorAll("[href]")) expect(link.getAttribute("href")).toMatch(/^#/);
    for (const node of page.querySelectorAll("*")) {
      for (const name of Object.keys(node.attributes)) expect(name.toLowerCase()).not.toMatch(/^on/);
    }
    expect(html.replace(/http:\/\/www\.w3\.org\/2000\/svg/g, "")).not.toMatch(/https?:/);
    expect(html.match(/<style>[\s\S]*?<\/style>/)![0]).not.toMatch(/url\(|@import/);
    expect(page.querySelector("meta[http-equiv=Content-Security-Policy]")!.getAttribute("content")).toContain(
      "default-src 'none'",
    );
  });

  it("shows hostile labels as text", () => {
    const html = render(hostileAnalysis, hostileContext);
    const markupOnly = scriptsOf(html).reduce((rest, script) => rest.replace(script.text, ""), html);
    expect(markupOnly).not.toMatch(/<img|<b onclick|<script>alert|[\u202a-\u202e]|[^\P{Cc}\n]/u);
    expect(textOf(html)).toContain('<script>alert("1")</script><img src=x onerror=alert(2)>');
    expect(
      parse(html)
        .querySelector("pre")!
        .text.replace(/&#(\d+);/g, (_, n) => String.fromCharCode(Number(n))),
    ).toBe(hostileContext.profileText);
  });

  it("lets no data or library close a script element", () => {
    for (const { text } of scriptsOf(render(hostileAnalysis, hostileContext)))
      expect(text).not.toMatch(/<!--|<\/script/i);
    const data = scriptsOf(render(hostileAnalysis, hostileContext)).filter((one) => one.attributes.includes("json"));
    for (const { text } of data) expect(text).not.toContain("<");
  });

  it.each(everyFixture)("of %s embeds its result whole", (_, analysis, context) => {
    const text = scriptsOf(render(analysis, context)).find((one) => one.attributes.includes("busdip-result"))!.text;
    const result = resultSchema.parse(JSON.parse(text));
    expect(result.loads.map((load) => load.id)).toEqual(analysis.loads.map((load) => load.id));
    expect(result.dips).toHaveLength(analysis.dips.length);
  });

  it.each(everyFixture)(
    "of %s gives every figure alt text, a static drawing, a plot and a table",
    (_, analysis, context) => {
      const html = render(analysis, context);
      const figures = parse(html).querySelectorAll("figure");
      const plots = JSON.parse(scriptsOf(html).find((one) => one.attributes.includes("busdip-figures"))!.text);
      expect(figures.length).toBeGreaterThan(0);
      for (const figure of figures) {
        const drawing = figure.querySelector("svg[role=img]")!;
        expect(drawing.getAttribute("aria-label")!.length).toBeGreaterThan(40);
        const plotLabel = figure.querySelector(".interactive")!.getAttribute("aria-label")!;
        expect(plotLabel.replace(/\u00a0/g, " ")).toBe(drawing.getAttribute("aria-label"));
        expect(plots[figure.id].data.length).toBeGreaterThan(0);
        expect(figure.querySelectorAll("thead th").length).toBeGreaterThan(1);
        expect(drawing.outerHTML).not.toMatch(/NaN|Infinity|undefined/);
      }
    },
  );

  it("keeps ids unique, since drawings refer to their own patterns and clips", () => {
    const ids = parse(render(hostileAnalysis, hostileContext))
      .querySelectorAll("[id]")
      .map((node) => node.id);
    expect(new Set(ids).size).toBe(ids.length);
  });

  it("stays under 1.5 MB of its own and 0.6 s of processor time for an hour at 1 kHz", () => {
    const analysis = { ...ice2Analysis, curves: curvesAt(1000, 3600) };
    const before = process.cpuUsage();
    const html = render(analysis, ice2Context);
    const { user } = process.cpuUsage(before);
    expect(html.length).toBeLessThan(1.5e6);
    expect(user / 1e6).toBeLessThan(0.6);
  });

  it("is the same for the same input", () => {
    expect(render(ice2Analysis, ice2Context)).toBe(render(ice2Analysis, ice2Context));
  });

  it("carries a program that parses", () => {
    expect(() => new Function(PAGE_SCRIPT)).not.toThrow();
  });
});
