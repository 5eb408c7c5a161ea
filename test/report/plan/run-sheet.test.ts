import { parse } from "node-html-parser";
import { describe, expect, it } from "vitest";
import { enduranceOutlook, planCheck, statedReadings, wholeBus } from "../../../src/core/index.js";
import { readProfile } from "../../../src/importers/profile/profile.js";
import { renderPlanTerminal, renderRunSheetHtml, renderWholeBusTerminal } from "../../../src/report/index.js";
import { wholeBusTable } from "../../../src/report/sections/whole-bus.js";

const profile = readProfile(
  `aircraft: "<b>ICE-2</b>"
battery: { resistance_mOhm: { value: 12, u: 0.5 }, chemistry: lead-acid, capacity_Ah: 40 }
path_resistance_mOhm: { value: 0, u: 0 }
loads:
  - { id: heat, name: "Heat & <vane>", kind: heater, rated: { power_W: 160, at_V: 28 }, accept_A: [4, 8], time_limit_s: 20, caution: It burns }
  - { id: tiny, kind: constant-current, rated: { current_A: 0.02 }, accept_A: [0.01, 0.03] }
  - { id: horn, name: Horn, kind: resistive, rated: { current_A: 2 }, shows: heard, look_for: one even tone, after: heat }
`,
  "bus.yaml",
);
const plan = planCheck(profile, { readings: statedReadings(0.02, undefined) });
const outlook = enduranceOutlook(profile);
const context = {
  title: "<b>ICE-2</b>",
  profileSource: "bus.yaml",
  softwareVersion: "0",
  madeAt: "2026-03-02T10:00:00Z",
};

describe("renderRunSheetHtml()", () => {
  const html = renderRunSheetHtml(plan, outlook, context);
  const page = parse(html);

  it("renderRunSheetHtml() has one box per item, in the order of the check, and no file's text as markup", () => {
    const rows = page.querySelectorAll("#sheet tbody tr");
    expect(rows.map((row) => row.querySelector("bdi")!.text)).toEqual(["Heat & <vane>", "tiny", "Horn"]);
    expect(rows.every((row) => row.querySelectorAll("input[type=checkbox]").length === 1)).toBe(true);
    expect(page.querySelectorAll("vane, h1 b")).toHaveLength(0);
  });

  it("renderRunSheetHtml() shows limit, caution, what comes first, what to listen for and the cautions", () => {
    const text = page
      .querySelector("#sheet")!
      .text.replaceAll("&#160;", " ")
      .replace(/\u00a0/g, " ");
    expect(text).toContain("On for 20 s in all at most. It burns.");
    expect(text).toContain("After Heat");
    expect(text).toContain("one even tone");
    expect(page.querySelector("#cautions")!.text).toContain("licensed person");
  });

  it("renderRunSheetHtml() names the switch, and the bus where the check has several", () => {
    const placesWith = (...buses: string[]) => {
      const loads = profile.loads.map((load, k) => ({ ...load, bus: buses[k]!, ...(k === 0 ? { switch: "S3" } : {}) }));
      const placed = planCheck({ ...profile, loads }, { readings: statedReadings(0.02, undefined) });
      const rows = parse(renderRunSheetHtml(placed, outlook, context)).querySelectorAll("#sheet tbody tr");
      return rows.map((row) => row.querySelector(".where")?.text ?? "");
    };
    expect(placesWith("main", "main", "main")).toEqual(["switch S3", "", ""]);
    expect(placesWith("main", "main", "spare")).toEqual(["bus main, switch S3", "bus main", "bus spare"]);
  });

  it("renderRunSheetHtml() fetches and runs nothing", () => {
    expect(html).not.toMatch(/<script|src=|href=|url\(/);
  });
});

describe("renderPlanTerminal()", () => {
  it("renderPlanTerminal() says which load the meter cannot show and what would help, within the columns", () => {
    const text = renderPlanTerminal(plan, outlook, { columns: 80, colour: false, ascii: true });
    expect(text.replace(/\s+/g, " ")).toMatch(/tiny: its dip is too small for this meter: .* clamp meter/);
    expect(text).toMatch(/^[\x20-\x7e\n]*$/);
    expect(Math.max(...text.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
  });
});

describe("wholeBusTable()", () => {
  const bus = wholeBus(profile, null, [{ load: "horn", found: "heard", when: "10:05", by: "K", note: "<i>faint</i>" }]);

  it("wholeBusTable() lists every item with its evidence or that there is none", () => {
    const page = parse(wholeBusTable(bus).html);
    expect(page.querySelectorAll(".whole-bus tbody tr .stands").map((cell) => cell.text)).toEqual([
      "no evidence",
      "no evidence",
      "answered",
    ]);
    expect(page.querySelectorAll("i")).toHaveLength(0);
  });

  it("renderWholeBusTerminal() counts what is left open", () => {
    const text = renderWholeBusTerminal(bus, { columns: 80, colour: false, ascii: false });
    expect(text).toContain("Whole bus: 1 of 3 items answered; 2 with no evidence.");
    expect(text).toContain("K, 10:05");
  });
});
