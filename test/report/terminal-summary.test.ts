import stringWidth from "string-width";
import { describe, expect, it } from "vitest";
import type { Analysis } from "../../src/core/index.js";
import { renderTerminalSummary } from "../../src/report/index.js";
import { depthOnlyAnalysis, everyFixture, hostileAnalysis, ice2Analysis, ice2Context } from "./analysis-fixtures.js";

const plain = { columns: 80, colour: false, ascii: false };
const escapeSign = "\u001b";

describe("renderTerminalSummary()", () => {
  it("gives each load one line, verdict first, with depth, current and chance", () => {
    const lines = renderTerminalSummary(ice2Analysis, ice2Context, plain).split("\n");
    const lineOf = (name: string) =>
      lines.find((line) => /^\S (responded|no response|undecided)/.test(line) && line.includes(name));
    expect(lineOf("Probe heat A")).toMatch(/^▼ responded +Probe heat A +118 ± 14 mV +5\.61 ± 0\.83 A +< 0.0001 %$/);
    expect(lineOf("Probe heat B")).toMatch(/^▬ no response +Probe heat B +2 ± 14 mV +not known +74 %$/);
    expect(lineOf("Stall-vane heat")).toMatch(/^\? undecided +Stall-vane heat +31 ± 23 mV +not known +8\.1 %$/);
  });

  it("says the battery, the next step, the cautions and where the report lies", () => {
    const text = renderTerminalSummary(ice2Analysis, ice2Context, {
      ...plain,
      columns: 100,
      reportPath: "out/report.html",
    });
    expect(text).toMatch(/^Battery .*25\.274 ± 0\.022 V.*21\.1 ± 2\.0 mΩ, 1 s after the step/m);
    expect(text).toContain("switch it 4 more times, 5 s on, 5 s off");
    expect(text).toMatch(/^Caution {2}Advisory only/m);
    expect(text.endsWith("Report   out/report.html\n")).toBe(true);
  });

  it.each(everyFixture)("of %s keeps within 60 to 100 columns", (_, analysis, context) => {
    for (const columns of [60, 72, 80, 100]) {
      for (const ascii of [false, true]) {
        const text = renderTerminalSummary(analysis, context, { columns, colour: false, ascii });
        const widest = Math.max(...text.split("\n").map((line) => stringWidth(line)));
        expect(widest).toBeLessThanOrEqual(columns);
      }
    }
  });

  it("says of which switchings the limit is where their times were searched for", () => {
    const toldOf = (limitsOf: Analysis["detection"]["limitsOf"]) => {
      const analysis = { ...ice2Analysis, detection: { ...ice2Analysis.detection, limitsOf } };
      return renderTerminalSummary(analysis, ice2Context, plain).replace(/\s+/g, " ");
    };
    expect(toldOf(null)).toContain("; dips from 39 mV on would be found.");
    expect(toldOf({ switchingCount: 3, onS: 5, offS: 5 })).toContain(
      "; 3 switchings of 5 s, 5 s apart, would be found from dips of 39 mV on.",
    );
    expect(toldOf({ switchingCount: 1, onS: 8, offS: 8 })).toContain(
      "; 1 switching of 8 s would be found from dips of 39 mV on.",
    );
  });

  it("never breaks a figure from its unit", () => {
    for (let columns = 60; columns <= 100; columns++) {
      const text = renderTerminalSummary(ice2Analysis, ice2Context, { ...plain, columns });
      expect(text).not.toMatch(/(±|\d)\n *(mV|V|mΩ|A|min|s|%|±)\b/);
    }
  });

  it("colours only on request, and never lets a label colour", () => {
    expect(renderTerminalSummary(hostileAnalysis, ice2Context, plain)).not.toContain(escapeSign);
    const coloured = renderTerminalSummary(hostileAnalysis, ice2Context, { ...plain, colour: true });
    expect(coloured.split(escapeSign)).toHaveLength(2 * hostileAnalysis.loads.length + 1);
  });

  it("in ASCII says the same signs in other letters", () => {
    const text = renderTerminalSummary(ice2Analysis, ice2Context, { ...plain, columns: 100, ascii: true });
    expect(text).toMatch(/^[\x20-\x7e\n]*$/);
    expect(text).toMatch(/^v responded +Probe heat A +118 \+\/- 14 mV/m);
    expect(text).toContain("21.1 +/- 2.0 mOhm");
  });

  it("lists the dips where no load is named", () => {
    const text = renderTerminalSummary(depthOnlyAnalysis, ice2Context, plain);
    expect(text).toContain("Dips     at 12.01 s, 5.0 s long: 192 ± 24 mV");
  });
});
