// Field telemetry of a 12 V lead-acid battery (github valentinsulzer/faster-lead-acid, BSD-3). Voltage and current do
// not belong to the same moments in its event rows: the voltage already sags while the current still reads idle, so
// that the change from row to row gives a resistance of zero.
import { describe, expect, it } from "vitest";
import { currentSteps, resistanceAtSteps } from "../../src/core/index.js";
import { dataText } from "./data-files.js";

const rows = dataText("battery/offgrid-leadacid-1.5A.csv")
  .trim()
  .split("\n")
  .slice(1)
  .map((line) => line.split(","))
  .filter(([, voltage]) => voltage !== "")
  .map(([time, voltage, amperes]) => [
    Date.parse(`${time.replace(" ", "T")}Z`) / 1000,
    Number(voltage),
    Number(amperes),
  ])
  .sort((a, b) => a[0] - b[0]);
const timesS = Float64Array.from(rows, ([time]) => time - rows[0][0]);
const current = { timesS, currentsA: Float64Array.from(rows, (row) => row[2]) };
const voltagesV = Float64Array.from(rows, (row) => row[1]);

describe("12 V lead-acid telemetry", () => {
  it("currentSteps() finds the load of 1.5 A going on and off", () => {
    const large = currentSteps(current).filter(({ deltaA }) => Math.abs(deltaA) > 1);
    expect(large.map(({ deltaA }) => Math.round(deltaA * 10) / 10)).toEqual([1.5, -1.5]);
  });

  it("resistanceAtSteps() refuses every step of a log whose voltage moves before its current", () => {
    const found = resistanceAtSteps({ timesS, voltagesV, current }, currentSteps(current));
    expect(found.length).toBeGreaterThanOrEqual(2);
    for (const { answers } of found) {
      for (const { answer } of answers) {
        expect(answer.known).toBe(false);
        expect(["not-sampled-together", "sampled-too-slowly"]).toContain(answer.known ? "" : answer.reason);
      }
    }
  });
});
