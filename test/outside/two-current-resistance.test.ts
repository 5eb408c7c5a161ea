// IEC 60896-21, 6.3 (internal resistance and short-circuit current; formulas from memory) and IEC 61960-3, d.c.
// internal resistance. Their worked numbers are algebra on round figures. Textbook: Serway & Vuille, College Physics,
// ch. 18, problem 3. Handbook: Linden's Handbook of Batteries, 9.6.6.1. OpenStax College Physics 2e, 21.2 (wording from
// memory, numbers by Ohm's law).
import { describe, expect, it } from "vitest";
import { currentFromSource } from "../../src/core/estimation/load-kind.js";
import { resistanceFromReference } from "../../src/core/estimation/source-resistance.js";
import {
  iec60896Schedule,
  iec61960Schedule,
  twoCurrentResistance,
} from "../../src/core/estimation/two-current-resistance.js";
import { lastDigits } from "./data-files.js";

const exactly = (value: number) => ({ value, u: 0 });

describe("IEC 60896-21", () => {
  it("twoCurrentResistance() of 12.4 V at 20 A and 11.4 V at 120 A: 10.0 mOhm, 1260 A into a short circuit", () => {
    const result = twoCurrentResistance(
      { terminalV: exactly(12.4), currentA: exactly(20) },
      { terminalV: exactly(11.4), currentA: exactly(120) },
    );
    expect(lastDigits(1000 * result.resistanceOhm.value, "10.0")).toBeLessThan(0.001);
    expect(lastDigits(result.shortCircuitA.value, "1260")).toBeLessThan(0.001);
  });

  it("the short-circuit current is the open-circuit voltage over the resistance", () => {
    const result = twoCurrentResistance(
      { terminalV: exactly(25 - 0.018 * 22), currentA: exactly(22) },
      { terminalV: exactly(25 - 0.018 * 130), currentA: exactly(130) },
    );
    expect(Math.abs(result.shortCircuitA.value / (25 / 0.018) - 1)).toBeLessThan(1e-12);
  });

  it("twoCurrentResistance() carries the uncertainties of all four readings, by numeric differences", () => {
    const values = [12.4, 11.4, 20, 120];
    const us = [0.01, 0.02, 0.3, 1.5];
    const at = (v: number[], u: number[]) =>
      twoCurrentResistance(
        { terminalV: { value: v[0], u: u[0] }, currentA: { value: v[2], u: u[2] } },
        { terminalV: { value: v[1], u: u[1] }, currentA: { value: v[3], u: u[3] } },
      );
    const none = [0, 0, 0, 0];
    const parts = values.map((_, k) => {
      const up = at(
        values.map((v, j) => v + (j === k ? 1e-4 * us[k] : 0)),
        none,
      );
      const down = at(
        values.map((v, j) => v - (j === k ? 1e-4 * us[k] : 0)),
        none,
      );
      return [
        (up.resistanceOhm.value - down.resistanceOhm.value) / 2e-4,
        (up.shortCircuitA.value - down.shortCircuitA.value) / 2e-4,
      ];
    });
    const got = at(values, us);
    expect(Math.abs(got.resistanceOhm.u / Math.hypot(...parts.map(([r]) => r)) - 1)).toBeLessThan(1e-6);
    expect(Math.abs(got.shortCircuitA.u / Math.hypot(...parts.map(([, i]) => i)) - 1)).toBeLessThan(1e-6);
  });

  it("refuses a second current that is not the larger", () => {
    const level = { terminalV: exactly(12), currentA: exactly(5) };
    expect(() => twoCurrentResistance(level, level)).toThrow(
      "Cannot take a two-current resistance: the second current must be the larger, got 5 A and 5 A",
    );
  });

  it("iec60896Schedule() of a 44 Ah battery: 17.6 to 26.4 A for 20 s, then 88 to 176 A for 5 s", () => {
    const { firstS, secondS, firstA, secondA } = iec60896Schedule(44);
    expect([firstS, secondS]).toEqual([20, 5]);
    expect([...firstA, ...secondA].map((amperes) => Math.round(amperes * 10) / 10)).toEqual([17.6, 26.4, 88, 176]);
  });
});

describe("IEC 61960-3", () => {
  it("iec61960Schedule() of a 2.5 Ah cell: 0.5 A for 10 s, then 2.5 A for 1 s", () => {
    expect(iec61960Schedule(2.5)).toEqual({ firstS: 10, secondS: 1, firstA: [0.5, 0.5], secondA: [2.5, 2.5] });
  });
});

describe("textbook batteries", () => {
  it("Serway & Vuille: 12.0 V, 11.5 V at 3.00 A: r = 0.167 ohm", () => {
    const answer = resistanceFromReference(
      { kind: "constant-current", rated: { currentA: 3 } },
      { depth: exactly(0.5), busV: exactly(12) },
    );
    expect(answer.known && lastDigits(answer.resistanceOhm, "0.167")).toBeLessThanOrEqual(0.5);
  });

  it("Linden 9.6.6.1: 12.0 V before and 11.4 V across 5.7 ohm: R = (V1 - V2) R_L / V2 = 0.300 ohm", () => {
    // 5.7 ohm as a rating: 28 V squared over 5.7 ohm.
    const answer = resistanceFromReference(
      { kind: "resistive", rated: { powerW: 28 ** 2 / 5.7, atV: 28 } },
      { depth: exactly(12 - 11.4), busV: exactly(12) },
    );
    expect(answer.known && lastDigits(answer.resistanceOhm, "0.300")).toBeLessThan(0.001);
  });

  it.each([
    [10, 0.1, "1.188", "11.9"],
    [0.5, 0.1, "20.0", "10.0"],
    [0.5, 0.5, "12.0", "6.00"],
  ])("OpenStax 21.2: 12.0 V into %d ohm behind %d ohm: %s A, %s V", (loadOhm, sourceOhm, amperes, volts) => {
    const currentA = currentFromSource({ kind: "resistance", resistanceOhm: loadOhm }, 12, sourceOhm)!;
    expect(lastDigits(currentA, amperes)).toBeLessThanOrEqual(0.5);
    expect(lastDigits(12 - currentA * sourceOhm, volts)).toBeLessThanOrEqual(0.5);
  });
});
