import { readFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { historyText, simulatedHistory } from "../../samples/history/make.js";

describe("samples/history", () => {
  it("ice-2-history.json is what make.ts writes", () => {
    const committed = readFileSync(new URL("../../samples/history/ice-2-history.json", import.meta.url), "utf8");
    expect(committed === historyText).toBe(true);
  });

  it("flightsOf() has B-0417 climb by what its course says, season and terminal aside", () => {
    const own = simulatedHistory.recordings.filter((one) => one.battery === "B-0417");
    const brought = own.map((one) => {
      const kelvin = (one.temperatureC ?? -12) + 273.15;
      const internal = one.estimates.find((estimate) => estimate.quantity === "internal-resistance")!.value;
      // The true law of the simulated battery.
      return internal / (Math.exp(700 * (1 / kelvin - 1 / 293.15)) * (1 + 0.4 * (1 - (one.stateOfCharge ?? 0.9))));
    });
    const mean = (from: number, to: number) =>
      brought.slice(from, to).reduce((sum, value) => sum + value, 0) / (to - from);
    expect(mean(0, 20) / 0.0096).toBeGreaterThan(0.97);
    expect(mean(0, 20) / 0.0096).toBeLessThan(1.03);
    expect(mean(27, 30) / mean(0, 20)).toBeGreaterThan(1.1);
    expect(brought[23]! / mean(0, 20)).toBeGreaterThan(1.5);
  });
});
