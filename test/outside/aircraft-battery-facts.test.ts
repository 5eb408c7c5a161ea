// Facts of aircraft batteries. Rest voltage of lead-acid: 2.1 V a cell, 12 cells in 24 V (FAA mechanic training text, two
// study notes repeating it); OCV about SG + 0.84 (trade). Service limit: "fully charged battery is considered serviceable
// if it meets 80 % of the 30 minute emergency capacity rating" (an aeroplane maintenance manual). Thirty minutes to
// 25,000 ft: former 14 CFR 23.1353(h) (numbers from memory).
import { describe, expect, it } from "vitest";
import { endurance } from "../../src/core/battery/endurance.js";
import { leadAcidCellV, REST_VOLTAGE } from "../../src/core/battery/rest-voltage.js";
import { randomGenerator } from "../../src/core/statistics/random.js";
import { lastDigits } from "./data-files.js";

describe("lead-acid at rest", () => {
  it("twelve cells rest at about 25.2 V", () => {
    expect(lastDigits(12 * REST_VOLTAGE["lead-acid"].chargedV, "25.2")).toBeLessThan(0.01);
  });

  it("a specific gravity of 1.280 stands for 2.12 V, within the range of a usable cell", () => {
    expect(lastDigits(leadAcidCellV(1.28), "2.12")).toBeLessThan(0.01);
    expect(leadAcidCellV(1.28)).toBeGreaterThan(REST_VOLTAGE["lead-acid"].lowV);
    expect(leadAcidCellV(1.3)).toBeLessThan(REST_VOLTAGE["lead-acid"].highV);
  });
});

describe("thirty-minute emergency capacity", () => {
  const emergency = (remaining: number, requiredMin: number) => {
    const answer = endurance(
      {
        capacityAh: 20,
        ratedHours: 0.5,
        chemistry: "lead-acid",
        busCurrentA: { value: 40, u: 0.01 },
        temperatureC: { value: 25, u: 0 },
        remainingShare: [remaining, remaining],
        requiredMin,
      },
      { coverage: 0.95, random: randomGenerator(1) },
    );
    if (!answer.known) throw new Error(answer.reason);
    return answer;
  };

  it("endurance() of a new battery at its rated current is the thirty minutes of its rating", () => {
    expect(lastDigits(emergency(1, 30).minutes, "30.0")).toBeLessThan(0.01);
  });

  it("endurance() of one at the service limit of 80 % is 24 minutes, and a demand of 30 is not met", () => {
    const worn = emergency(0.8, 30);
    expect(lastDigits(worn.minutes, "24.0")).toBeLessThan(0.01);
    expect(worn.meets).toBe(false);
    expect(emergency(0.8, 20).meets).toBe(true);
  });
});
