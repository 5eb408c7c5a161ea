import { describe, expect, it } from "vitest";
import { baselineBefore } from "../../../src/core/estimation/baseline.js";
import { type CurrentStep, currentSteps } from "../../../src/core/estimation/current-step.js";
import { levelAt } from "../../../src/core/estimation/level-at.js";
import {
  dischargeSign,
  type ResistanceAtStep,
  resistanceAtSteps,
  type StepResistanceOptions,
  type TimedAnswer,
} from "../../../src/core/estimation/step-resistance.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

interface Bench {
  readonly noiseV: number;
  readonly displayV?: number;
  readonly driftVPerS?: number;
  readonly currentEvery?: number;
}

/** 25 V behind 30 mOhm; 10 A from 40 s to 70 s, which then swells to 11 A, read five times a second. */
function bench({ noiseV, displayV = 0, driftVPerS = 0, currentEvery = 1 }: Bench): Recording {
  const random = randomGenerator(3);
  const timesS = Float64Array.from({ length: 500 }, (_, k) => k / 5);
  const loadA = (t: number) => (t >= 40 && t < 70 ? 10 + (t - 40) / 30 : 0);
  const voltagesV = timesS.map((t) => {
    const value = 25 + driftVPerS * t - 0.03 * loadA(t) + noiseV * random.normal();
    return displayV > 0 ? displayV * Math.round(value / displayV) : value;
  });
  const times = timesS.filter((_, k) => k % currentEvery === 0);
  return {
    timesS,
    voltagesV,
    current: { timesS: times, currentsA: times.map((t) => loadA(t) + 0.01 * Math.sin(7 * t)) },
  };
}

/** The same by the formulas, before the sign of the clamp is told. */
function byHand(
  recording: Recording,
  step: CurrentStep,
  timed: { readonly atS: number; readonly firstS: number },
  given: { readonly sigmaV: number; readonly correlationS: number; readonly displayV: number; readonly gain: number },
) {
  const { timesS, voltagesV, current } = recording;
  const { sigmaV, correlationS, displayV, gain } = given;
  const base = baselineBefore(
    timesS,
    voltagesV,
    { fromS: (step.quietFromS + step.beforeS) / 2, toS: step.beforeS, referenceS: step.onsetS },
    { sigma: sigmaV, correlationS },
  )!;
  const place = { originS: step.onsetS, atS: timed.atS, endS: step.quietToS };
  const after = levelAt(timesS, voltagesV, { ...place, startS: timed.firstS }, correlationS)!;
  const currentA =
    levelAt(current!.timesS, current!.currentsA, { ...place, startS: step.afterS }, 0)?.level ?? step.afterA;
  const on = Math.abs(step.afterA) > Math.abs(step.beforeA);
  const { atS } = timed;
  // The drift before the step is carried on under a load, give or take half of it; else all of it is open. Rectangular.
  const carried = on ? 1 : 0;
  const changeV = after.level - base.level - carried * base.slope * atS;
  const changeA = currentA - step.beforeA;
  const levelVariance = base.uLevel ** 2 + carried * (2 * base.covariance * atS + (base.uSlope * atS) ** 2);
  const uDisplay = displayV / Math.sqrt(12);
  const parts = [
    Math.sqrt(
      Math.max(0, sigmaV ** 2 - uDisplay ** 2) * after.noiseFactor ** 2 +
        levelVariance +
        (((on ? 0.5 : 1) * base.slope * atS) / Math.sqrt(3)) ** 2,
    ) / changeA,
    (Math.SQRT2 * uDisplay) / changeA,
    ((after.slope - base.slope) * step.uOnsetS) / changeA,
    (Math.hypot(step.uDeltaA, gain * changeA) * changeV) / changeA ** 2,
  ];
  return { changeV, changeA, ratio: changeV / changeA, parts };
}

const known = ({ answer }: TimedAnswer): ResistanceAtStep => {
  if (!answer.known) throw new Error(answer.reason);
  return answer;
};

describe("resistanceAtSteps() is change of voltage over change of current, its uncertainty the formula's", () => {
  it.each([
    ["white noise", bench({ noiseV: 0.002 }), { sigmaV: 0.002, correlationS: 0, displayV: 0, gain: 0.01 }],
    [
      "coloured noise on a falling voltage",
      bench({ noiseV: 0.004, driftVPerS: -0.002 }),
      { sigmaV: 0.004, correlationS: 0.6, displayV: 0, gain: 0.02 },
    ],
    [
      "a display of 10 mV",
      bench({ noiseV: 0.004, displayV: 0.01, driftVPerS: 0.001 }),
      { sigmaV: 0.006, correlationS: 0, displayV: 0.01, gain: 0.01 },
    ],
    [
      "a clamp that is read every four seconds",
      bench({ noiseV: 0.002, currentEvery: 20 }),
      { sigmaV: 0.002, correlationS: 0, displayV: 0, gain: 0 },
    ],
  ])("%s", (_, recording, given) => {
    const options: StepResistanceOptions = {
      atS: [1, 4, 10],
      noise: { sigma: given.sigmaV, correlationS: given.correlationS },
      gainFraction: given.gain,
    };
    const found = resistanceAtSteps(recording, currentSteps(recording.current!), options);
    expect(found).toHaveLength(2);
    let compared = 0;
    for (const { step, answers } of found) {
      const firstS = step.onsetS + answers.find(({ first }) => first)!.atS;
      for (const timed of answers) {
        if (!timed.answer.known) continue;
        compared += 1;
        const answer = known(timed);
        const hand = byHand(recording, step, { atS: timed.atS, firstS }, given);
        expect(answer.changeV).toBeCloseTo(hand.changeV, 9);
        expect(answer.changeA).toBeCloseTo(hand.changeA, 9);
        // A positive current discharges: the voltage falls by resistance times current.
        expect(answer.resistanceOhm).toBeCloseTo(-hand.ratio, 9);
        expect(answer.uOhm).toBeCloseTo(Math.hypot(...hand.parts), 9);
        answer.rows.forEach(({ sensitivity, u }, k) => {
          expect(Math.abs(sensitivity * u)).toBeCloseTo(Math.abs(hand.parts[k]!), 9);
        });
        expect(answer.rows.map(({ sensitivity }) => Math.sign(sensitivity))).toEqual(
          [-1, -1, -1, hand.ratio].map((sign) => Math.sign(sign / hand.changeA)),
        );
      }
    }
    expect(compared).toBeGreaterThanOrEqual(6);
  });

  it("takes noise for no less than that of rounding, nor than a ten-millionth of the voltage, whatever its sign", () => {
    const uOf = (recording: Recording, sigma: number): number => {
      const steps = currentSteps(recording.current!);
      const [on] = resistanceAtSteps(recording, steps, {
        atS: [4],
        noise: { sigma, correlationS: 0 },
        gainFraction: 0,
      });
      const { rows } = known(on!.answers.find(({ first }) => !first)!);
      return rows.find(({ source }) => source === "reading-noise")!.u;
    };
    // A load that swells unevenly, so that no display step is seen.
    const { timesS, current } = bench({ noiseV: 0 });
    const loadA = (t: number) => (t >= 40 && t < 70 ? 10 + ((t - 40) / 30) ** 1.5 : 0);
    const plain = { timesS, voltagesV: timesS.map((t) => 25 - 0.03 * loadA(t)), current: current! };
    const least = 1e-7 * plain.voltagesV[0]!;
    expect(uOf(plain, 0)).toBe(uOf(plain, least));
    expect(uOf(plain, 1e3 * least)).toBeGreaterThan(uOf(plain, least));
    const turned = { ...plain, voltagesV: plain.voltagesV.map((v) => -v) };
    expect(uOf(turned, 0) / uOf(plain, 0)).toBeCloseTo(1, 9);
    const coarse = bench({ noiseV: 0.004, displayV: 0.01 });
    expect(uOf(coarse, 0)).toBe(uOf(coarse, 0.01 / Math.sqrt(12)));
    expect(uOf(coarse, 0.006)).toBeGreaterThan(uOf(coarse, 0));
  });

  it("says that the load did not respond, or that it is below one digit, where less than two uncertainties are seen", () => {
    const reason = (recording: Recording, sigma: number) => {
      const faint = { ...recording, voltagesV: recording.voltagesV.map((v) => 25 + (v - 25) / 1000) };
      const steps = currentSteps(recording.current!);
      const found = resistanceAtSteps(faint, steps, { atS: [4], noise: { sigma, correlationS: 0 } });
      return found.map(({ answers }) => answers.map(({ answer }) => (answer.known ? "known" : answer.reason)));
    };
    expect(reason(bench({ noiseV: 0 }), 0.01)).toEqual([
      ["load-did-not-respond", "load-did-not-respond"],
      ["load-did-not-respond", "load-did-not-respond"],
    ]);
  });
});

const answered = (changeA: number, ohm: number, uOhm: number): TimedAnswer => ({
  atS: 1,
  first: false,
  answer: { known: true, resistanceOhm: ohm, changeA, changeV: ohm * changeA, uOhm, rows: [] },
});

describe("dischargeSign()", () => {
  it("tells nothing without an answer", () => {
    expect(dischargeSign([])).toBeNull();
    const none: TimedAnswer = { atS: 1, first: false, answer: { known: false, reason: "sampled-too-slowly" } };
    expect(dischargeSign([none])).toBeNull();
  });

  it("is told by a ratio of more than two standard uncertainties, weighed by the square of the current", () => {
    expect(dischargeSign([answered(10, -0.02, 0.0099)])).toBe(1);
    expect(dischargeSign([answered(10, 0.02, 0.0099)])).toBe(-1);
    expect(dischargeSign([answered(10, -0.02, 0.0101)])).toBeNull();
    // 100 x 0.01 against 16 x 0.05 the other way: 0.2 is left, with 100 x 0.0009 and 16 x 0.001.
    const mixed = (u: number) => [answered(10, -0.01, u), answered(-4, 0.05, 0.001)];
    expect(dischargeSign(mixed(0.0009))).toBe(1);
    expect(dischargeSign(mixed(0.00098))).toBe(1);
    expect(dischargeSign(mixed(0.00099))).toBeNull();
  });
});
