import { describe, expect, it } from "vitest";
import { currentSteps } from "../../../src/core/estimation/current-step.js";
import { resistanceAtSteps, type StepResistanceOptions } from "../../../src/core/estimation/step-resistance.js";
import type { Recording } from "../../../src/core/series/recording.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

interface Bench {
  readonly rateHz: number;
  readonly sigmaV: number;
  readonly quantumV?: number;
  readonly clampOffsetA?: number;
  readonly voltageDelayS?: number;
  readonly seed: number;
}

/** 25 V behind 20 mOhm and 10 mOhm with 3 s, relaxing by 0.1 mV/s; a load of 10 A from 40 s to 70 s. */
function battery(bench: Bench): Recording {
  const random = randomGenerator(bench.seed);
  const phase = random.uniform() / bench.rateHz;
  const timesS = Float64Array.from({ length: Math.round(100 * bench.rateHz) }, (_, k) => k / bench.rateHz + phase);
  const loadA = (t: number) => (t >= 40 && t < 70 ? 10 : 0);
  const slowV = (t: number) => (t < 40 ? 0 : 0.1 * (Math.exp(-Math.max(0, t - 70) / 3) - Math.exp(-(t - 40) / 3)));
  const voltageAt = (t: number) => 25 + 0.0001 * t - 0.02 * loadA(t) - slowV(t);
  const quantum = bench.quantumV ?? 0;
  const voltagesV = timesS.map((t) => {
    const value = voltageAt(t - (bench.voltageDelayS ?? 0)) + bench.sigmaV * random.normal();
    return quantum > 0 ? quantum * Math.round(value / quantum) : value;
  });
  const currentsA = timesS.map((t) => loadA(t) + (bench.clampOffsetA ?? 0) + 0.02 * random.normal());
  return { timesS, voltagesV, current: { timesS, currentsA } };
}

function atOn(recording: Recording, atS: number | "first", options: StepResistanceOptions = { gainFraction: 0 }) {
  const steps = currentSteps(recording.current ?? { timesS: new Float64Array(0), currentsA: new Float64Array(0) });
  const [on] = resistanceAtSteps(recording, steps, options);
  const timed = on.answers.find((answer) => (atS === "first" ? answer.first : !answer.first && answer.atS === atS));
  if (timed === undefined) throw new Error(`no answer at ${atS} s`);
  return timed;
}

const truthOhm = (atS: number) => 0.02 + 0.01 * (1 - Math.exp(-atS / 3));

describe("resistanceAtSteps()", () => {
  it("covers the true resistance at 1 s and 10 s in 95 % of 300 recordings, give or take 4 %", () => {
    for (const atS of [1, 10]) {
      let covered = 0;
      for (let seed = 1; seed <= 300; seed++) {
        const { answer } = atOn(battery({ rateHz: 10, sigmaV: 0.005, seed }), atS);
        if (answer.known && Math.abs(answer.resistanceOhm - truthOhm(atS)) < 1.96 * answer.uOhm) covered++;
      }
      expect(covered / 300).toBeGreaterThan(0.91);
      expect(covered / 300).toBeLessThan(0.99);
    }
  });

  it("tells the resistance where the first reading of the load is an inrush of four times its current (20 seeds)", () => {
    for (let seed = 1; seed <= 20; seed++) {
      const plain = battery({ rateHz: 10, sigmaV: 0.002, seed });
      const first = plain.timesS.findIndex((t) => t >= 40);
      const more = (values: Float64Array, by: number) => values.map((value, k) => (k === first ? value + by : value));
      const recording = {
        timesS: plain.timesS,
        voltagesV: more(plain.voltagesV, -0.02 * 30),
        current: { timesS: plain.timesS, currentsA: more(plain.current!.currentsA, 30) },
      };
      const { answer } = atOn(recording, 1);
      if (!answer.known) throw new Error(`seed ${seed}: ${answer.reason}`);
      expect(Math.abs(answer.changeA - 10)).toBeLessThan(0.1);
      expect(Math.abs(answer.resistanceOhm - truthOhm(1))).toBeLessThan(4 * answer.uOhm);
      expect(answer.uOhm).toBeLessThan(0.001);
    }
  });

  it("an offset of the clamp of 3 A changes nothing", () => {
    const plain = atOn(battery({ rateHz: 10, sigmaV: 0.005, seed: 3 }), 1).answer;
    const offset = atOn(battery({ rateHz: 10, sigmaV: 0.005, seed: 3, clampOffsetA: 3 }), 1).answer;
    expect(plain.known && offset.known && Math.abs(offset.resistanceOhm / plain.resistanceOhm - 1)).toBeLessThan(1e-9);
  });

  it("a clamp that reads discharge as negative gives the same resistance", () => {
    const recording = battery({ rateHz: 10, sigmaV: 0.005, seed: 4 });
    const current = { timesS: recording.timesS, currentsA: recording.current!.currentsA.map((amperes) => -amperes) };
    const turned = atOn({ ...recording, current }, 1).answer;
    const plain = atOn(recording, 1).answer;
    expect(plain.known && turned.known && Math.abs(turned.resistanceOhm / plain.resistanceOhm - 1)).toBeLessThan(1e-9);
  });

  it("a display step of 20 mV raises the uncertainty to at least that of two rectangular readings", () => {
    const { answer } = atOn(battery({ rateHz: 10, sigmaV: 0.001, quantumV: 0.02, seed: 5 }), 1);
    expect(answer.known && answer.uOhm).toBeGreaterThanOrEqual((0.02 * Math.SQRT2) / Math.sqrt(12) / 10);
    expect(answer.known && Math.abs(answer.resistanceOhm - truthOhm(1))).toBeLessThan(0.02 / 10);
  });

  it("the uncertainty of the clamp's gain enters in full", () => {
    const recording = battery({ rateHz: 10, sigmaV: 0.0001, seed: 6 });
    const { answer } = atOn(recording, 1, { gainFraction: 0.05 });
    if (!answer.known) throw new Error(answer.reason);
    const row = answer.rows.find(({ source }) => source === "measured-current");
    expect(Math.abs((row!.sensitivity * row!.u) / answer.resistanceOhm)).toBeCloseTo(0.05, 3);
  });

  it("refuses 1 s at one reading in four seconds, and still tells 10 s", () => {
    const recording = battery({ rateHz: 0.25, sigmaV: 0.001, seed: 7 });
    expect(atOn(recording, 1).answer).toEqual({ known: false, reason: "sampled-too-slowly" });
    const { answer } = atOn(recording, 10);
    expect(answer.known && Math.abs(answer.resistanceOhm / truthOhm(10) - 1)).toBeLessThan(0.05);
  });

  it("refuses 1 s where the onset is not known to 0.3 s: rectangular between readings further apart than 1.04 s", () => {
    for (let seed = 1; seed <= 4; seed++) {
      const told = (rateHz: number, atS: number) => atOn(battery({ rateHz, sigmaV: 0.001, seed }), atS).answer;
      expect(told(0.9, 1), `seed ${seed}`).toEqual({ known: false, reason: "sampled-too-slowly" });
      const later = told(0.9, 10);
      expect(later.known && Math.abs(later.resistanceOhm / truthOhm(10) - 1), `seed ${seed}`).toBeLessThan(0.05);
      const sooner = told(1.1, 1);
      expect(sooner.known && Math.abs(sooner.resistanceOhm / truthOhm(1) - 1), `seed ${seed}`).toBeLessThan(0.1);
    }
  });

  it("refuses a recording whose voltage runs half a second ahead of its current", () => {
    const recording = battery({ rateHz: 10, sigmaV: 0.001, voltageDelayS: -0.5, seed: 8 });
    expect(atOn(recording, 1).answer).toEqual({ known: false, reason: "not-sampled-together" });
  });

  it("refuses a voltage that was held for half a second after the current stepped", () => {
    const recording = battery({ rateHz: 10, sigmaV: 0.0005, voltageDelayS: 0.5, seed: 11 });
    expect(atOn(recording, 1).answer).toEqual({ known: false, reason: "not-sampled-together" });
  });

  it("still tells 10 s where the clocks of meter and clamp are 0.4 s apart and that much is owned up to", () => {
    for (const voltageDelayS of [-0.4, 0.4]) {
      const recording = battery({ rateHz: 10, sigmaV: 0.002, voltageDelayS, seed: 12 });
      const { answer } = atOn(recording, 10, { gainFraction: 0, clockUncertaintyS: 0.3 });
      expect(answer.known && Math.abs(answer.resistanceOhm / truthOhm(10) - 1)).toBeLessThan(0.02);
    }
  });

  it("takes the onset from the voltage where the current is read once a second on its own clock", () => {
    const recording = battery({ rateHz: 20, sigmaV: 0.002, seed: 9 });
    const every = (series: Float64Array) => series.filter((_, k) => k % 20 === 0);
    const current = { timesS: every(recording.timesS), currentsA: every(recording.current!.currentsA) };
    const { answer, atS } = atOn({ ...recording, current }, "first");
    expect(atS).toBeLessThan(0.06);
    expect(answer.known && Math.abs(answer.resistanceOhm - truthOhm(atS))).toBeLessThan(0.001);
  });

  it("takes a positive current for a discharge where the steps contradict each other or tell nothing", () => {
    const timesS = Float64Array.from({ length: 400 }, (_, k) => k / 10);
    const currentsA = timesS.map((t) => (t < 10 ? -5 : t < 20 ? 5 : t < 30 ? -5 : 5));
    const current = { timesS, currentsA };
    const steps = currentSteps(current);
    const noise = { sigma: 1e-3, correlationS: 0 };
    const answersOf = (voltagesV: Float64Array) =>
      resistanceAtSteps({ timesS, voltagesV, current }, steps, { atS: [1], noise });
    // 0.2 V down with a rise of 10 A, up with the second rise: 20 mOhm, and the same against it.
    const opposed = answersOf(timesS.map((t) => (t < 10 ? 24 : t < 20 ? 23.8 : t < 30 ? 23.8 : 24)));
    const ohms = [opposed[0]!, opposed[2]!].map(({ answers }) => {
      const { answer } = answers.find(({ first }) => !first)!;
      return answer.known ? answer.resistanceOhm : answer.reason;
    });
    expect(ohms).toEqual([expect.closeTo(0.02, 6), expect.closeTo(-0.02, 6)]);
    const silent = answersOf(timesS.map(() => 24));
    // Each step begins or ends at 5 A the other way.
    expect(silent.map(({ charging }) => charging)).toEqual([true, true, true]);
  });

  it("leaves out stated times after the load has gone off again", () => {
    const recording = battery({ rateHz: 10, sigmaV: 0.002, seed: 10 });
    const [on] = resistanceAtSteps(recording, currentSteps(recording.current!), { atS: [1, 60] });
    expect(on.answers.map(({ first, atS }) => (first ? "first" : atS))).toEqual(["first", 1]);
  });
});
