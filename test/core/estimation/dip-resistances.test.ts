import { describe, expect, it } from "vitest";
import {
  type MeasuredSteps,
  measuredDip,
  measuredSteps,
  resistanceOfSteps,
} from "../../../src/core/estimation/dip-resistances.js";
import { normalQuantity } from "../../../src/core/quantity/interval.js";

const at = (atS: number, valueOhm: number, u: number) => ({
  atS,
  resistance: normalQuantity(valueOhm, u, "Ohm", "measured-current"),
});

describe("resistanceOfSteps()", () => {
  it("is the mean by precision at 1 s; its uncertainty the surest step's and the scatter together", () => {
    const found = resistanceOfSteps([
      { resistances: [at(0.1, 0.5, 0.1), at(1, 0.02, 0.001)] },
      { resistances: [at(1, 0.023, 0.002), at(10, 0.9, 0.1)] },
    ])!;
    expect(found.atS).toBe(1);
    // Weights 4 : 1.
    expect(found.resistance.value).toBeCloseTo(0.0206, 12);
    const scatter = Math.sqrt(0.0006 ** 2 + 0.0024 ** 2);
    expect(found.resistance.u).toBeCloseTo(Math.hypot(0.001, scatter), 12);
    expect(found.resistance).toMatchObject({ unit: "Ohm", route: "measured-current" });
    expect(resistanceOfSteps([{ resistances: [at(1, 0.02, 0.001)] }])!.resistance.u).toBeCloseTo(0.001, 12);
  });

  it("is that at 10 s where fewer than half of the dips have one at 1 s, and null where neither has", () => {
    const ten = { resistances: [at(10, 0.03, 0.001)] };
    const one = { resistances: [at(1, 0.02, 0.001)] };
    expect(resistanceOfSteps([one, ten])!.atS).toBe(1);
    expect(resistanceOfSteps([one, ten, ten])!.atS).toBe(10);
    expect(resistanceOfSteps([{ resistances: [at(0.5, 0.02, 0.001)] }])).toBeNull();
    expect(resistanceOfSteps([])).toBeNull();
    expect(resistanceOfSteps([one, { resistances: [] }, { resistances: [] }])).toBeNull();
  });
});

describe("measuredDip()", () => {
  const known = (uOhm: number) => ({
    known: true as const,
    resistanceOhm: 0.02,
    uOhm,
    changeV: -0.2,
    changeA: -10,
    rows: [
      { source: "reading-noise" as const, value: 0, unit: "V" as const, u: 0.003, sensitivity: 1 },
      { source: "display-step" as const, value: 0, unit: "V" as const, u: 0.004, sensitivity: 1 },
      { source: "measured-current" as const, value: 10, unit: "A" as const, u: 0.1, sensitivity: 1 },
    ],
  });
  const steps = (uOhm = 0.0005, first = true) =>
    ({
      onSteps: [
        {
          step: { beforeS: 10, afterS: 10.2 },
          charging: false,
          answers: [
            { atS: 0.1, first, answer: known(uOhm) },
            { atS: 1, first: false, answer: known(0.0007) },
            { atS: 10, first: false, answer: { known: false, reason: "sampled-too-slowly" } },
          ],
        },
      ],
      reason: null,
      dischargeSign: 1,
    }) as unknown as MeasuredSteps;

  it("takes depth and current from the first reading after the step, both counted positive", () => {
    const found = measuredDip(steps(), 10.1, 0.1)!;
    expect(found.depth.value).toBe(0.2);
    expect(found.depth.u).toBeCloseTo(0.005, 12);
    expect(found.current).toEqual({ value: 10, u: 0.1 });
    expect(found.resistances.map(({ atS, resistance }) => [atS, resistance.u])).toEqual([
      [0.1, 0.0005],
      [1, 0.0007],
    ]);
  });

  it("looks within half a second and twice the doubt about the onset of the step", () => {
    // From 10 - 0.2 - 0.5 s to 10.2 + 0.2 + 0.5 s.
    const near = (onsetS: number) => measuredDip(steps(), onsetS, 0.1) !== null;
    expect([9.29, 9.31, 10.89, 10.91].map(near)).toEqual([false, true, true, false]);
    // The ends themselves count: with a doubt of a quarter 9 s, and 10.2 s of which no half second is exact.
    expect(measuredDip(steps(), 9, 0.25)).not.toBeNull();
  });

  it("asks for a resistance known to 5 %, of a first reading", () => {
    expect(measuredDip(steps(0.001), 10.1, 0.1)).not.toBeNull();
    expect(measuredDip(steps(0.00101), 10.1, 0.1)).toBeNull();
    expect(measuredDip(steps(0.0005, false), 10.1, 0.1)).toBeNull();
    expect(measuredDip(null, 10.1, 0.1)).toBeNull();
  });
});

describe("measuredSteps()", () => {
  const timesS = Float64Array.from({ length: 600 }, (_, i) => i / 10);
  const isOn = (t: number) => t >= 20 && t < 35;
  const recording = (sign: 1 | -1) => ({
    timesS,
    voltagesV: timesS.map((t, i) => 25 - (isOn(t) ? 0.2 : 0) + 0.0005 * (((i * 7) % 5) - 2)),
    current: { timesS, currentsA: timesS.map((t) => sign * (2 + (isOn(t) ? 10 : 0))) },
  });

  it.each([1, -1] as const)(
    "keeps the steps by which a load was switched on, whichever sign discharge has: %d",
    (sign) => {
      const found = measuredSteps(recording(sign), undefined, null)!;
      expect(found).toMatchObject({ reason: null, dischargeSign: sign });
      expect(found.onSteps).toHaveLength(1);
      expect(found.onSteps[0]!.step.onsetS).toBeCloseTo(19.95, 9);
      const { answer } = found.onSteps[0]!.answers.find(({ atS }) => atS === 1)!;
      expect(answer).toMatchObject({ known: true, resistanceOhm: expect.closeTo(0.02, 3) });
      expect(measuredSteps(recording(sign), undefined, sign)!.dischargeSign).toBe(sign);
    },
  );

  it("uses no reading within four time constants of the meter after a step", () => {
    const firstAfterS = (lagS: number | undefined) =>
      measuredSteps(recording(1), lagS, null)!.onSteps[0]!.answers.find(({ first }) => first)!.atS;
    expect(firstAfterS(undefined)).toBeCloseTo(0.05, 9);
    // Onset at 19.95 s: 1.2 s later is 21.15 s, and the next reading at 21.2 s.
    expect(firstAfterS(0.3)).toBeCloseTo(1.25, 9);
  });

  it("keeps no step by which a load was switched off, nor one while the battery is charged", () => {
    const charged = { ...recording(1), current: { timesS, currentsA: timesS.map((t) => (isOn(t) ? 8 : -6)) } };
    expect(measuredSteps(charged, undefined, 1)!.onSteps).toEqual([]);
    expect(measuredSteps(recording(1), undefined, null)!.onSteps.map(({ step }) => step.deltaA > 0)).toEqual([true]);
  });

  it("has a reason where no step tells anything, and is nothing without a current", () => {
    const { timesS: t, voltagesV } = recording(1);
    expect(measuredSteps({ timesS: t, voltagesV }, undefined, null)).toBeNull();
    const still = { timesS, currentsA: timesS.map(() => 3) };
    expect(measuredSteps({ timesS, voltagesV, current: still }, undefined, null)).toEqual({
      onSteps: [],
      reason: "no-current-step",
      dischargeSign: null,
    });
    const flat = { ...recording(1), voltagesV: timesS.map((_, i) => 25 + 0.0005 * (((i * 7) % 5) - 2)) };
    expect(measuredSteps(flat, undefined, 1)!.reason).toBe("load-did-not-respond");
  });
});
