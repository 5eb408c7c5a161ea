// Pulse test of a lithium traction cell at 25 C (Oak Ridge and National Renewable Energy laboratories, published with
// github batterysim/equiv-circ-model, MIT). The reference table was worked out from the rows by hand rules: change of
// voltage over change of current at the first row, 10 s and 30 s after the load is switched on, and 1 s after it is off.
import { describe, expect, it } from "vitest";
import { theveninFit } from "../../src/core/estimation/thevenin.js";
import { currentSteps, resistanceAtSteps } from "../../src/core/index.js";
import { dataColumns, dataText } from "./data-files.js";

interface PulseReference {
  t: number;
  R_first_mohm: number;
  R_10s_mohm: number;
  R_30s_mohm: number;
  R_off_1s_mohm: number;
}

const [timesS, currentsA, voltagesV] = dataColumns("battery/ev-cell-25c-pulses.csv");
const current = { timesS, currentsA };
const steps = currentSteps(current);
const found = resistanceAtSteps({ timesS, voltagesV, current }, steps, { atS: [1, 10, 30], gainFraction: 0 });
const references: PulseReference[] = JSON.parse(dataText("battery/ev-cell-25c-pulse-reference.json"));

function milliohms(timeS: number, pick: (atS: number, first: boolean) => boolean): { value: number; u: number } {
  const at = found.find(({ step }) => Math.abs(step.afterS - timeS) < 0.01);
  const timed = at?.answers.find(({ atS, first }) => pick(atS, first));
  if (timed === undefined || !timed.answer.known) throw new Error(`nothing known at ${timeS} s`);
  return { value: 1000 * timed.answer.resistanceOhm, u: 1000 * timed.answer.uOhm };
}

describe("30 A pulses of the lithium cell, 25 C", () => {
  it("currentSteps() finds every pulse on and off, none of them on the taper of the charge", () => {
    const on = steps.filter(({ deltaA }) => Math.abs(deltaA + 30) < 0.1).map(({ afterS }) => afterS);
    expect(on).toEqual(references.map(({ t }) => t));
    const off = steps.filter(({ deltaA }) => Math.abs(deltaA - 30) < 0.1).map(({ afterS }) => afterS);
    expect(off.map((timeS) => Math.round(timeS * 10) / 10)).toEqual(
      references.map(({ t }) => Math.round((t + 30.5) * 10) / 10),
    );
  });

  it("currentSteps() takes the first charge pulse, 9.6 to 22.3 A in six rows, for a ramp and the later ones for steps", () => {
    const chargeOnsets = steps.filter(({ afterA }) => afterA > 20).map(({ afterS }) => Math.round(afterS));
    expect(chargeOnsets).toEqual(references.slice(1).map(({ t }) => Math.round(t + 69.6)));
  });

  it.each(references)("resistanceAtSteps() agrees at %o: first row, 10 s, 30 s, and 1 s after the release", (row) => {
    const cases = [
      [milliohms(row.t, (_, first) => first), row.R_first_mohm],
      [milliohms(row.t, (atS) => atS === 10), row.R_10s_mohm],
      [milliohms(row.t, (atS) => atS === 30), row.R_30s_mohm],
      [milliohms(row.t + 30.5, (atS, first) => atS === 1 && !first), row.R_off_1s_mohm],
    ] as const;
    for (const [got, want] of cases) {
      // One step of the voltmeter, 1 mV, is 0.033 mOhm at 30 A.
      expect(Math.abs(got.value - want)).toBeLessThan(0.033);
      expect(got.u).toBeGreaterThan(0.01);
      expect(got.u).toBeLessThan(0.05);
    }
  });

  it("resistanceAtSteps() tells that the discharge is negative in this file and which steps involve charging", () => {
    for (const { step, charging, answers } of found) {
      expect(charging).toBe(Math.max(step.beforeA, step.afterA) > 1);
      for (const { answer } of answers) if (answer.known) expect(answer.resistanceOhm).toBeGreaterThan(0);
    }
  });

  it("resistanceAtSteps() refuses where the rest is read once a minute only", () => {
    const slow = found.filter(({ step }) => step.afterS - step.beforeS > 10);
    for (const { answers } of slow) {
      for (const { answer } of answers) expect(answer).toEqual({ known: false, reason: "sampled-too-slowly" });
    }
  });

  it.each(references.slice(1, -1))("theveninFit() at %o agrees at 0.5, 10 and 30 s within 3 %", (row) => {
    const onsetS = row.t - 0.5;
    const from = timesS.findIndex((t) => t > onsetS - 200);
    const to = timesS.findIndex((t) => t > onsetS + 70.05);
    const { resistances, parts } = theveninFit({
      timesS: timesS.subarray(from, to),
      voltagesV: voltagesV.subarray(from, to),
      // The rows at the switching moments still show the old level.
      levels: [
        { timeS: onsetS + 0.001, currentA: 30 },
        { timeS: onsetS + 30.001, currentA: 0 },
      ],
      atS: [0.5, 10, 30],
    });
    [row.R_first_mohm, row.R_10s_mohm, row.R_30s_mohm].forEach((milliohm, k) => {
      expect(Math.abs((1000 * resistances[k].resistanceOhm.value) / milliohm - 1)).toBeLessThan(0.03);
    });
    // The publisher's own model has an ohmic part of 1.6 mOhm.
    expect(parts.known && Math.abs(1000 * parts.ohmicOhm.value - 1.6)).toBeLessThan(0.1);
  });
});
