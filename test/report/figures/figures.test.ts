import { parse } from "node-html-parser";
import { describe, expect, it } from "vitest";
import type { FigureLayer } from "../../../src/report/figures/figure.js";
import { plotlyFigure } from "../../../src/report/figures/plotly-figure.js";
import { DARK_PALETTE, LIGHT_PALETTE } from "../../../src/report/figures/svg-style.js";
import { reportFigures, svgFigure } from "../../../src/report/index.js";
import { everyFixture, hostileAnalysis, ice2Analysis } from "../analysis-fixtures.js";

const figureOf = (id: string) => reportFigures(ice2Analysis).find((figure) => figure.id === id)!;
const layersOf = (id: string): readonly FigureLayer[] =>
  figureOf(id).cells.flatMap((cell) => cell.panels.flatMap((panel) => panel.layers));
const ofKind = <Kind extends FigureLayer["kind"]>(layers: readonly FigureLayer[], kind: Kind) =>
  layers.filter((layer): layer is Extract<FigureLayer, { kind: Kind }> => layer.kind === kind);

describe("reportFigures()", () => {
  it("draws each load's interval in millivolts with critical value and acceptable dip", () => {
    const intervals = ofKind(layersOf("depth-intervals"), "interval");
    expect(intervals.map((one) => one.value)).toEqual(
      ice2Analysis.loads.map((load) => Math.round(load.depth!.value * 1e5) / 100),
    );
    expect(intervals.map((one) => one.verdict)).toEqual(ice2Analysis.loads.map((load) => load.verdict));
    const ticks = ofKind(layersOf("depth-intervals"), "tick");
    expect(ticks.filter((tick) => tick.role === "critical")).toHaveLength(4);
    expect(ticks.filter((tick) => tick.role === "expected").map((tick) => tick.x)).toEqual([81.1, 81.1, 40.6]);
  });

  it("shades every dip in the trace and names each run of dips", () => {
    const layers = layersOf("voltage-trace");
    expect(ofKind(layers, "span").map((span) => span.fromX)).toEqual(
      [...ice2Analysis.dips, ...ice2Analysis.dips].map((dip) => dip.onsetS),
    );
    expect(ofKind(layers, "text").map((text) => text.text)).toEqual([
      "Landing light",
      "Probe heat A",
      "Probe heat B",
      "Stall-vane heat",
    ]);
  });

  it("puts a bracket over each switching of a load without dips, and says so below", () => {
    const silent = ice2Analysis.curves.coherent.find(({ load }) => load === "probe-heat-b")!;
    const brackets = ofKind(layersOf("voltage-trace"), "line").filter((line) => line.role === "bracket");
    expect(brackets).toHaveLength(3 + silent.onTimes.length);
    for (const { onsetS, releaseS } of silent.onTimes)
      expect(brackets.map((line) => line.x)).toContainEqual([onsetS, onsetS, releaseS, releaseS]);
    const caption = reportFigures(ice2Analysis).find((one) => one.id === "voltage-trace")!.caption;
    expect(caption).toContain("without shade: the load was on, and no dip was found");
  });

  it("draws the depth of each enlarged dip where its interval lies", () => {
    const [band] = ofKind(layersOf("dips-1"), "band");
    const dip = ice2Analysis.dips.find((one) => one.load === "probe-heat-a")!;
    expect(-band!.low[0]!).toBeCloseTo(dip.depth.high * 1e3, 1);
    expect(-band!.high[0]!).toBeCloseTo(dip.depth.low * 1e3, 1);
  });

  it("draws the band of an average 1.96 standard uncertainties wide", () => {
    const [band] = ofKind(layersOf("coherent-average"), "band");
    const { uMeanV } = ice2Analysis.curves.coherent[0]!;
    expect((band!.high[5]! - band!.low[5]!) / 2).toBeCloseTo(1.96 * uMeanV[5]! * 1e3, 0);
  });

  it.each(everyFixture)("of %s keeps every finite point inside its panel's ordinate", (_, analysis) => {
    const cells = reportFigures(analysis).flatMap((figure) => figure.cells);
    for (const { x } of cells) expect(x.high).toBeGreaterThan(x.low);
    for (const { y, layers } of cells.flatMap((cell) => cell.panels)) {
      expect(y.high).toBeGreaterThan(y.low);
      for (const series of [...ofKind(layers, "line"), ...ofKind(layers, "points")]) {
        expect(series.x).toHaveLength(series.y.length);
        const values = series.y.filter((value) => value !== null);
        expect(values.filter((value) => !(value >= y.low && value <= y.high))).toEqual([]);
      }
    }
  });
});

describe("svgFigure()", () => {
  it("stands alone as well-formed SVG with its own colours and key", () => {
    for (const figure of reportFigures(hostileAnalysis)) {
      const svg = svgFigure(figure, { standalone: true });
      expect(parse(svg).querySelectorAll("script")).toEqual([]);
      expect(svg).toContain(`fill:${LIGHT_PALETTE.ink}`);
      expect(svg).not.toContain("var(");
      for (const { text } of figure.key) expect(svg).toContain(text);
      expect(svg).not.toMatch(/NaN|Infinity|undefined|[^\P{Cc}\n]/u);
      const opened = [...svg.matchAll(/<([a-zA-Z]+)\b[^>]*?(\/?)>/g)]
        .filter((tag) => tag[2] === "")
        .map((tag) => tag[1]);
      const closed = [...svg.matchAll(/<\/([a-zA-Z]+)>/g)].map((tag) => tag[1]);
      expect([...opened].sort()).toEqual([...closed].sort());
    }
  });

  it("fits a phone: one column, every label and box within a width of 328, with its short labels", () => {
    for (const figure of reportFigures(ice2Analysis)) {
      const svg = parse(svgFigure(figure, { narrow: true })).querySelector("svg")!;
      const [, , width, height] = svg.getAttribute("viewBox")!.split(" ").map(Number);
      expect(width).toBe(328);
      const boxes = [
        ...svg.outerHTML.matchAll(
          /<clippath[^>]*><rect x="([\d.]+)" y="([\d.]+)" width="([\d.]+)" height="([\d.]+)"/gi,
        ),
      ].map(([, ...numbers]) => {
        const [x, y, across, down] = numbers.map(Number);
        return { x: x!, y: y!, right: x! + across!, bottom: y! + down! };
      });
      expect(boxes.length).toBe(figure.cells.reduce((sum, { panels }) => sum + panels.length, 0));
      for (const { x, right, bottom } of boxes) {
        expect(x).toBe(boxes[0]!.x);
        expect(right).toBeLessThanOrEqual(328);
        expect(bottom).toBeLessThan(height!);
      }
      for (const [i, { y }] of boxes.slice(1).entries()) expect(y).toBeGreaterThan(boxes[i]!.bottom);
      const texts = figure.cells.flatMap(({ panels }) => panels.flatMap(({ layers }) => ofKind(layers, "text")));
      const shown = svg.querySelectorAll(".f-label").map((one) => one.textContent);
      expect(shown).toEqual(texts.map(({ narrowText }) => narrowText));
    }
  });

  it("tells loads of like names apart where a narrow drawing has no room for them", () => {
    const labels = ofKind(layersOf("voltage-trace"), "text").map(({ narrowText }) => narrowText);
    expect(labels.length).toBe(4);
    expect(new Set(labels).size).toBe(4);
  });

  it("puts a point where its axes say", () => {
    const axis = { label: "a", unit: "s", low: 0, high: 10 };
    const svg = svgFigure({
      id: "one",
      title: "",
      caption: "",
      alt: "one point",
      key: [],
      columns: 1,
      table: { head: [], rows: [] },
      cells: [
        {
          title: null,
          x: axis,
          panels: [{ y: axis, heightPx: 100, layers: [{ kind: "points", role: "readings", x: [0, 10], y: [10, 5] }] }],
        },
      ],
    });
    // Left edge 56, right edge 728, top 6, height 100.
    expect(svg).toContain('d="M56 6h0M728 56h0"');
  });
});

describe("plotlyFigure()", () => {
  it("names colours only of the page's palette", () => {
    const text = JSON.stringify(reportFigures(ice2Analysis).map(plotlyFigure));
    const names = [...text.matchAll(/"[a-z_]*color":"([^"]*)"/g)].map((match) => match[1]!);
    expect(names.length).toBeGreaterThan(20);
    for (const name of names) expect(Object.keys(LIGHT_PALETTE)).toContain(name.slice(1));
  });

  it("stacks the cells of a narrow page and sets them side by side on a wide one", () => {
    const { wide, narrow } = plotlyFigure(figureOf("dips-1"));
    const domains = (layout: Record<string, unknown>) =>
      Object.entries(layout)
        .filter(([name]) => name.startsWith("xaxis"))
        .map(([, axis]) => (axis as { domain: [number, number] }).domain);
    expect(new Set(domains(wide).map(String)).size).toBe(3);
    expect(new Set(domains(narrow).map(String))).toEqual(new Set(["0,1"]));
    expect(narrow.height).toBeGreaterThan(wide.height as number);
  });

  it("lets no label act as a tag", () => {
    const figures = reportFigures(hostileAnalysis).map(plotlyFigure);
    const labels = figures.flatMap(({ wide }) => (wide.annotations as { text: string }[]).map((one) => one.text));
    expect(labels.length).toBeGreaterThan(5);
    for (const label of labels) expect(label.replace(/^<b>|<\/b>$/g, "")).not.toMatch(/[<>]/);
  });
});

/** Contrast ratio of two colours. Source: WCAG 2.1, definitions of contrast ratio and relative luminance. */
function contrast(one: string, other: string): number {
  const luminance = (colour: string) => {
    const [r, g, b] = [1, 3, 5].map((at) => {
      const channel = Number.parseInt(colour.slice(at, at + 2), 16) / 255;
      return channel <= 0.03928 ? channel / 12.92 : ((channel + 0.055) / 1.055) ** 2.4;
    }) as [number, number, number];
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const [light, dark] = [luminance(one), luminance(other)].sort((a, b) => b - a) as [number, number];
  return (light + 0.05) / (dark + 0.05);
}

describe("palettes", () => {
  it("contrast() gives 21 for black on white, as WCAG 2.1 defines it", () => {
    expect(contrast("#000000", "#ffffff")).toBeCloseTo(21, 6);
  });

  it.each([
    ["light", LIGHT_PALETTE],
    ["dark", DARK_PALETTE],
  ])("%s: words pass WCAG 2.1 AA (4.5 to 1), lines 3 to 1 on paper and on a shaded dip", (_, palette) => {
    for (const name of ["ink", "soft", "responded", "silent", "undecided"]) {
      expect(contrast(palette[name]!, palette.paper!)).toBeGreaterThan(4.5);
    }
    for (const ground of ["paper", "span"]) {
      for (const name of ["reading", "model", "drift"]) {
        expect(contrast(palette[name]!, palette[ground]!)).toBeGreaterThan(3);
      }
    }
  });
});
