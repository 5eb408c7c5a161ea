import { describe, expect, it } from "vitest";
import { readReportFonts } from "../../../src/cli/report-fonts.js";
import { enduranceOutlook, planCheck, statedReadings } from "../../../src/core/index.js";
import { readProfile } from "../../../src/importers/profile/profile.js";
import { renderRunSheetPdf } from "../../../src/report/plan/run-sheet-pdf.js";
import { pageTexts, pdfInside } from "../pdf-inside.js";

const loads = Array.from({ length: 40 }, (_, k) =>
  k < 8
    ? `  - { id: n${k}, name: Heater number ${k}, kind: heater, accept_A: [4, 8], time_limit_s: 30, caution: "Hot, people clear" }`
    : `  - { id: s${k}, name: Panel light number ${k}, kind: resistive, shows: seen, look_for: "steady light, no flicker" }`,
);
/** Names and words as long as the sheet prints them. */
const longLoads = Array.from({ length: 40 }, (_, k) =>
  k % 4 === 0
    ? `  - { id: n${k}, name: ${k} Stall-warning vane heater and case, kind: heater, accept_A: [4, 8], time_limit_s: 30, caution: "Covers off, people clear" }`
    : `  - { id: s${k}, name: ${k} Emergency floor-path and exit lights, kind: resistive, shows: seen, look_for: "both strips lit along the whole cabin" }`,
);
const profile = readProfile(
  `battery: { resistance_mOhm: { value: 12, u: 0.5 } }\npath_resistance_mOhm: { value: 0, u: 0 }\nloads:\n${loads.join("\n")}\n`,
  "bus.yaml",
);

describe("renderRunSheetPdf()", () => {
  it.each(["A4", "Letter"] as const)(
    "renderRunSheetPdf(40 loads, %s) sets all items on the first side",
    async (paper) => {
      const plan = planCheck(profile, { readings: statedReadings(0.02, undefined) });
      const context = {
        title: "ICE-2",
        profileSource: "bus.yaml",
        softwareVersion: "0",
        madeAt: "2026-03-02T10:00:00Z",
      };
      const fonts = await readReportFonts();
      const bytes = await renderRunSheetPdf(plan, enduranceOutlook(profile), { ...context, fonts, paper });
      const [first, second] = pageTexts(pdfInside(bytes));
      for (let k = 8; k < 40; k++) expect(first).toContain(`Panel light number ${k}`);
      expect(second).toContain("What the meter can show");
      const again = await renderRunSheetPdf(plan, enduranceOutlook(profile), { ...context, fonts, paper });
      expect(Buffer.compare(Buffer.from(bytes), Buffer.from(again))).toBe(0);
    },
  );

  it("renderRunSheetPdf(40 loads with long names) still sets all items on one A4 side, each word whole", async () => {
    const long = readProfile(`loads:\n${longLoads.join("\n")}\n`, "bus.yaml");
    const plan = planCheck(long, { readings: statedReadings(0.02, undefined) });
    const context = { title: "ICE-2", profileSource: "bus.yaml", softwareVersion: "0", madeAt: "2026-03-02T10:00:00Z" };
    const bytes = await renderRunSheetPdf(plan, enduranceOutlook(long), { ...context, fonts: await readReportFonts() });
    const [first] = pageTexts(pdfInside(bytes));
    for (let k = 0; k < 40; k++) {
      const name = k % 4 === 0 ? "Stall-warning vane heater and case" : "Emergency floor-path and exit lights";
      expect(first).toContain(`${k} ${name}`);
    }
    expect(first).toContain("meter");
    expect(first).toContain("Done");
  });
});
