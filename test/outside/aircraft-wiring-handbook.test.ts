// FAA AC 43.13-1B, CHG 1: table 11-9 (wire resistance), tables 11-7 and 11-8 (worked voltage drops; two entries of the
// tables carry printed arithmetic errors and are left out), p. 11-22 item (4) (temperature), p. 11-26 example 1.
import { describe, expect, it } from "vitest";
import { copperResistanceAt, copperWireResistance } from "../../src/core/battery/copper-path.js";
import { lastDigits } from "./data-files.js";

const dropV = (gauge: number, feet: number, amperes: number) => copperWireResistance(gauge, feet * 0.3048) * amperes;

describe("AC 43.13-1B", () => {
  it.each([
    [6, 107, 20, "0.942"],
    [4, 90, 20, "0.504"],
    [14, 100, 20, "6.12"],
    [10, 39, 20, "0.98"],
    [10, 156, 20, "3.93"],
    [10, 273, 20, "6.88"],
  ])("copperWireResistance() of No. %d, %d ft at %d A drops %s V", (gauge, feet, amperes, printed) => {
    expect(lastDigits(dropV(gauge, feet, amperes), printed)).toBeLessThanOrEqual(0.51);
  });

  it("example 1: 50 ft, 20 A, 28 V continuous: No. 10 drops more than 1 V, No. 8 less", () => {
    expect(dropV(10, 50, 20)).toBeGreaterThan(1);
    expect(dropV(8, 50, 20)).toBeLessThan(1);
  });

  it("copperResistanceAt() 60 C is 1.1572 times that at 20 C", () => {
    expect(lastDigits(copperResistanceAt(1, 60), "1.1572")).toBeLessThanOrEqual(0.5);
  });

  it("refuses a gauge that the table does not have", () => {
    expect(() => copperWireResistance(7, 10)).toThrow(
      "Cannot look up a wire: the gauge must be one of table 11-9, got 7",
    );
  });
});
