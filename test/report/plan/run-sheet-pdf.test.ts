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
});
