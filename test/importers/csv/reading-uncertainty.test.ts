import { describe, expect, it } from "vitest";
import { importLogs, type LogSeries } from "../../../src/importers/csv/csv-importer.js";
import type { LogOptions } from "../../../src/importers/csv/log-options.js";
import type { Lanes } from "../../../src/importers/csv/regular-lane.js";
import { lines } from "./log-shapes.js";

async function read(log: string, options: LogOptions = {}, lanes: Lanes = "plain"): Promise<LogSeries> {
  const bytes = new TextEncoder().encode(log);
  return await importLogs([{ name: "log.csv", size: bytes.length, open: () => [bytes] }], "voltage", options, lanes);
}

const LOG = lines("time_s,voltage_V,u_V", "0,25.2,0.02", "0.1,25.1,0.03", "0.2,25.0,0.05", "0.3,24.9,0.02");

describe("importLogs() of readings that share a gain", () => {
  it("reads its standard uncertainty from a line above them, and says so", async () => {
    const { recording, understood } = await read(`# clip: a.mp4\n# gain_u: 0.0041\n${LOG}`);
    expect(recording!.gainUncertainty).toBe(0.0041);
    expect(understood.map((one) => one.text).join("\n")).toContain("all voltages share a gain known to 0.41 %");
    expect((await read(LOG)).recording!).not.toHaveProperty("gainUncertainty");
    expect((await read(`# gain_u: 0\n${LOG}`)).recording!).not.toHaveProperty("gainUncertainty");
  });

  it.each(["-0.1", "4 %", "11", "NaN"])("refuses one of %s", async (told) => {
    await expect(read(`# gain_u: ${told}\n${LOG}`)).rejects.toThrow(
      `the line gain_u above the readings says '${told}'`,
    );
  });
});

describe("importLogs() of readings with uncertainties of their own", () => {
  it.each(["plain", "bytes", "text"] as const)("reads the column u_V beside the voltage (by %s)", async (lanes) => {
    const { recording, understood } = await read(LOG, {}, lanes);
    expect(recording!.voltagesV).toEqual(Float64Array.of(25.2, 25.1, 25.0, 24.9));
    expect(recording!.readingUncertaintiesV).toEqual(Float64Array.of(0.02, 0.03, 0.05, 0.02));
    expect(understood.map((one) => one.text).join("\n")).toContain(
      "column 3 'u_V' read as the standard uncertainty of each reading in V, by its name",
    );
  });

  it("keeps each uncertainty with its reading where rows are out of order or without a voltage", async () => {
    const { recording } = await read(
      lines(
        "time_s,voltage_V,u_V",
        ...Array.from({ length: 40 }, (_, i) => `${i / 10},25,0.02`),
        "4.1,24.1,0.04",
        "4,24.0,0.01",
        "4.2,,",
        "4.3,24.3,0.06",
      ),
    );
    expect([...recording!.timesS.slice(40)]).toEqual([4, 4.1, 4.3]);
    expect([...recording!.voltagesV.slice(40)]).toEqual([24.0, 24.1, 24.3]);
    expect([...recording!.readingUncertaintiesV!.slice(40)]).toEqual([0.01, 0.04, 0.06]);
  });

  it.each(["plain", "bytes", "text"] as const)("reads the column aside_V beside it (by %s)", async (lanes) => {
    const told = lines("time_s,voltage_V,u_V,aside_V", "0,25.2,0.02,-0.004", "0.1,25.1,0.03,0", "0.2,25.0,0.05,0.01");
    const { recording, understood } = await read(told, {}, lanes);
    expect([...recording!.voltagesV]).toEqual([25.2, 25.1, 25.0]);
    expect([...recording!.asidesV!]).toEqual([-0.004, 0, 0.01]);
    expect(understood.map((one) => one.text).join("\n")).toContain(
      "what each reading would change by if the needle lay",
    );
    expect((await read(LOG)).recording!).not.toHaveProperty("asidesV");
    await expect(read(told.replace("0.03,0", "0.03,"), {}, lanes)).rejects.toThrow("no number in the column aside_V");
  });

  it("reads millivolts where the header says so", async () => {
    const { recording } = await read(lines("time_s,voltage_V,u_mV", "0,25.2,20", "0.1,25.1,30", "0.2,25.0,50"));
    expect([...recording!.readingUncertaintiesV!]).toEqual([0.02, 0.03, 0.05]);
  });

  it("leaves the column out where it is told so, and reads it again by the saved description", async () => {
    expect((await read(LOG, { uncertaintyColumn: 0 })).recording!.readingUncertaintiesV).toBeUndefined();
    const { description, recording } = await read(LOG);
    expect(description.uncertaintyColumn).toBe("u_V");
    expect((await read(LOG, description)).recording).toEqual(recording);
    const without = await read(LOG, { uncertaintyColumn: 0 });
    expect((await read(LOG, without.description)).recording).toEqual(without.recording);
  });

  it("reads a lone u_V as the voltage, and asks where two columns are of a voltage's size", async () => {
    const alone = await read(lines("time_s,u_V", "0,25.2", "0.1,25.1", "0.2,25.0"));
    expect(alone.recording!.voltagesV[0]).toBe(25.2);
    expect(alone.recording!.readingUncertaintiesV).toBeUndefined();
    await expect(read(lines("time_s,voltage_V,u_V", "0,25.2,25.3", "0.1,25.1,25.2"))).rejects.toThrow(
      "2 columns may hold the voltage",
    );
  });

  it.each(["0.2,25.0,", "0.2,25.0,0", "0.2,25.0,-0.02"])("refuses the row %s", async (row) => {
    await expect(read(lines("time_s,voltage_V,u_V", "0,25.2,0.02", "0.1,25.1,0.02", row))).rejects.toThrow(
      /line 4: this reading has no standard uncertainty above zero; mend the line, or say --uncertainty-column 0/,
    );
  });
});

describe("importLogs() tells what the times can tell apart", () => {
  it.each([
    ["elapsed seconds with two decimals", lines("time_s,voltage_V", "0.00,25.2", "0.10,25.1", "0.25,25.0"), 0.01],
    ["whole milliseconds", lines("time_ms,voltage_V", "0,25.2", "100,25.1", "251,25.0"), 0.001],
    ["stamps of whole seconds", lines("time,voltage_V", "12:00:01,25.2", "12:00:02,25.1", "12:00:03,25.0"), 1],
  ])("%s", async (_, log, resolutionS) => {
    expect((await read(log)).recording!.clockResolutionS).toBeCloseTo(resolutionS, 12);
  });

  it("is better than the stamps where ten even readings share each of them", async () => {
    const rows = Array.from(
      { length: 100 },
      (_, i) => `12:00:${String(Math.floor(i / 10)).padStart(2, "0")},25.${i % 10}`,
    );
    const { recording, clockResolutionS } = await read(lines("time,voltage_V", ...rows));
    expect(clockResolutionS).toBe(1);
    expect(recording!.clockResolutionS).toBeCloseTo(0.1, 3);
  });

  it("is not told where the readings have no times", async () => {
    const { recording } = await read(lines("voltage_V", "25.2", "25.1", "25.0"), { intervalS: 0.1 });
    expect(recording!.clockResolutionS).toBeUndefined();
  });
});
