import { describe, expect, it } from "vitest";
import { readHistoryCsv, readHistoryJson, writeHistoryCsv, writeHistoryJson } from "../../src/history/index.js";
import { entry } from "./entries.js";

const CONTENT = {
  batteries: [
    { id: "B-0417", chemistry: "lead-acid", cells: 12, capacityAh: 44, retiredOn: "2026-06-01", retiredBecause: "age" },
  ],
  installations: [
    {
      battery: "B-0417",
      aircraft: "ICE-2",
      bus: "essential",
      installedOn: "2026-01-01",
      removedOn: null,
      newLife: false,
    },
  ],
  recordings: [entry(1), entry(2, { remark: 'loose, "left" terminal' })],
};

describe("history as JSON", () => {
  it("readHistoryJson() gives back what writeHistoryJson() was given", () => {
    expect(readHistoryJson(writeHistoryJson(CONTENT), "x.json")).toEqual(CONTENT);
  });

  it("readHistoryJson() names the place of a fault", () => {
    expect(() => readHistoryJson("{", "x.json")).toThrow(
      "x.json: this is not JSON; give a file that busdip history export wrote",
    );
    const broken = writeHistoryJson(CONTENT).replace('"u": 0.0005', '"u": -1');
    expect(() => readHistoryJson(broken, "x.json")).toThrow(
      /^x\.json: at recordings\.0\.estimates\.0\.u: .*; mend the entry; nothing was added$/,
    );
    expect(() => readHistoryJson('{"schema":"other/1"}', "x.json")).toThrow(/at schema:/);
    const zinc = writeHistoryJson(CONTENT).replace('"lead-acid"', '"zinc"');
    expect(() => readHistoryJson(zinc, "x.json")).toThrow(
      "x.json: at batteries.0.chemistry: expected lead-acid, ni-cd, li-ion or null",
    );
  });
});

describe("history as CSV", () => {
  it("readHistoryCsv() gives back the estimates that writeHistoryCsv() was given", () => {
    const back = readHistoryCsv(writeHistoryCsv(CONTENT), "x.csv").recordings;
    expect(back.map((each) => [each.hash, each.battery, each.atS, each.remark, each.temperatureC])).toEqual(
      CONTENT.recordings.map((each) => [each.hash, each.battery, each.atS, each.remark, each.temperatureC]),
    );
    back.forEach((each, index) => {
      for (const estimate of each.estimates) {
        const written = CONTENT.recordings[index].estimates.find((one) => one.quantity === estimate.quantity)!;
        expect(estimate.value).toBeCloseTo(written.value, 9);
        expect(estimate.u).toBeCloseTo(written.u, 9);
        expect([estimate.load, estimate.afterS]).toEqual([written.load, written.afterS]);
      }
    });
  });

  it("readHistoryCsv() gives back the battery's plate, but for what became of it", () => {
    const { retiredOn: _on, retiredBecause: _why, ...plate } = CONTENT.batteries[0];
    const { batteries } = readHistoryCsv(writeHistoryCsv(CONTENT), "x.csv");
    expect(batteries).toEqual([{ ...plate, retiredOn: null, retiredBecause: null }]);
  });

  it("readHistoryCsv() takes a plate told in one line of several, and refuses two that differ", () => {
    const table = (first: string, second: string) =>
      `date,battery,chemistry,cells,capacity_Ah,internal_mOhm,u_internal_mOhm\n2026-03-02,B-1,${first},9.5,0.5\n2026-03-05,B-1,${second},9.7,0.5\n`;
    const read = (first: string, second: string) => readHistoryCsv(table(first, second), "x.csv").batteries;
    expect(read("ni-cd,,", ",20,")).toMatchObject([{ id: "B-1", chemistry: "ni-cd", cells: 20, capacityAh: null }]);
    expect(read(",,", ",,")).toEqual([]);
    expect(() => read("ni-cd,,", "lead-acid,,")).toThrow(
      "x.csv, line 3: battery B-1 has chemistry lead-acid here and ni-cd above; write the same in both lines; nothing was added",
    );
    expect(() => read("zinc,,", ",,")).toThrow("x.csv, line 2: chemistry is 'zinc'; write lead-acid, ni-cd, li-ion");
    expect(() => read(",0,", ",,")).toThrow("x.csv, line 2: cells is '0'; write a whole number from 1 on");
    expect(() => read(",12.5,", ",,")).toThrow("x.csv, line 2: cells is '12.5'");
    expect(() => read(",,-44", ",,")).toThrow("x.csv, line 2: capacity_Ah is '-44'; write a number above zero");
  });

  it("readHistoryCsv() of a table kept by hand gives each line a hash of its own, the same each time", () => {
    const table = "date,battery,internal_mOhm,u_internal_mOhm\n2026-03-02,B-1,9.5,0.5\n2026-03-05,B-1,9.7,0.5\n";
    const first = readHistoryCsv(table, "x.csv").recordings;
    expect(first.map((each) => each.estimates[0].value)).toEqual([0.0095, 0.0097]);
    expect(first[0].atS).toBe(Date.UTC(2026, 2, 2, 12) / 1000);
    expect(new Set(first.map((each) => each.hash)).size).toBe(2);
    expect(readHistoryCsv(table, "y.csv").recordings).toEqual(first);
  });

  it("readHistoryCsv() reads without harm a cell that a spreadsheet would run", () => {
    const written = writeHistoryCsv({ ...CONTENT, recordings: [entry(1, { remark: "=HYPERLINK(1)" })] });
    expect(written).toContain("'=HYPERLINK(1)");
    expect(readHistoryCsv(written, "x.csv").recordings[0].remark).toBe("=HYPERLINK(1)");
  });

  it.each([
    [
      "battery,internal_mOhm\nB,1\n",
      "x.csv, line 1: the column date is missing; add it to the header; nothing was added",
    ],
    [
      "date,battery,internal_mOhm,u_internal_mOhm\n2026-02-30,B,1,1\n",
      "x.csv, line 2: the date is '2026-02-30'; write it as 2026-03-02 or 2026-03-02T10:30:00Z; nothing was added",
    ],
    [
      'date,battery,internal_mOhm,u_internal_mOhm\n2026-02-03,B,1,1\n2026-02-03,B,"1,2",1\n',
      "x.csv, line 3: internal_mOhm is '1,2'; write a plain number; nothing was added",
    ],
    [
      "date,battery,internal_mOhm\n2026-02-03,B,1\n",
      "x.csv, line 2: internal_mOhm has no uncertainty; write its standard uncertainty, above zero, into u_internal_mOhm; nothing was added",
    ],
    [
      "date,battery,internal_mOhm,u_internal_mOhm\n2026-02-03,B\n",
      "x.csv, line 2: this line does not fit the header; give it one cell for each column; nothing was added",
    ],
    [
      "date,battery\n",
      "x.csv, line 1: the table holds no recording; give a header and a line for each recording; nothing was added",
    ],
  ])("readHistoryCsv() of %j says where and how to mend it", (table, sentence) => {
    expect(() => readHistoryCsv(table, "x.csv")).toThrow(sentence);
  });
});
