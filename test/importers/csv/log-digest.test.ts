import { describe, expect, it } from "vitest";
import { importLogs } from "../../../src/importers/csv/csv-importer.js";
import { logDigest } from "../../../src/importers/csv/log-digest.js";
import type { LogOptions } from "../../../src/importers/csv/log-options.js";
import { lines } from "./log-shapes.js";

async function digest(log: string, options: LogOptions = {}): Promise<string[]> {
  const file = { name: "log.csv", size: null, open: () => [new TextEncoder().encode(log)] };
  const { understood, warnings } = await importLogs([file], "voltage", options);
  return logDigest([...understood, ...warnings]);
}

describe("logDigest()", () => {
  it("names the columns, the form of the times and the dialect on one line", async () => {
    expect(
      await digest(lines("Zeit;Akku (mV);Strom", "13.02.2026 10:00:00;25213,0;1,5", "13.02.2026 10:00:01;25093,0;7,2")),
    ).toEqual([
      "Voltage from column 2 'Akku (mV)' in mV; current from column 3 'Strom' in A (no unit is given); " +
        "time from column 1 'Zeit', date and time; no zone, taken as UTC; dates day-first; " +
        "semicolons between columns, decimal sign ','.",
    ]);
  });

  it("puts every warning on a line of its own", async () => {
    const found = await digest(lines("time_s,voltage_V,x", "0,25.2,1", "1,25.1,1", "2,25.2,1", "3,25.2"), {});
    expect(found.slice(1)).toEqual([]);
    const cut = await digest(`${lines("time_s,voltage_V,x", "0,25.2,1", "1,25.1,1", "2,25.2,1")}3,2`);
    expect(cut.slice(1)).toEqual(["The last line (5) is cut short and was left out."]);
  });
});
