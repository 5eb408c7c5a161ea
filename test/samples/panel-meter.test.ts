import { describe, expect, it } from "vitest";
import { readThroughMeter, type SimulatedMeter } from "../../samples/simulator/panel-meter.js";
import { randomSource } from "../../samples/simulator/random-source.js";

const ideal: SimulatedMeter = {
  rateHz: 10,
  lagS: 0,
  whiteV: 0,
  lingeringV: 0,
  lingeringTimeS: 1,
  wanderVPerSqrtS: 0,
  displayStepV: 0,
  wildShare: 0,
  wildV: 0,
  gaps: [],
};
const flat = (durationS: number) => new Float64Array(durationS * 100 + 1).fill(24);
const read = (meter: Partial<SimulatedMeter>, signal = flat(2000)) =>
  readThroughMeter(signal, 0.01, { ...ideal, ...meter }, randomSource(5));

function spread(values: Float64Array): number {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  return Math.sqrt(values.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (values.length - 1));
}

describe("readThroughMeter()", () => {
  it("an ideal meter shows the signal at its rate", () => {
    const { timesS, values } = read({}, flat(10));
    expect(timesS.length).toBe(101);
    expect(timesS[100]).toBeCloseTo(10, 9);
    expect(new Set(values)).toEqual(new Set([24]));
  });

  it("white noise has the stated spread", () => {
    // 20,001 readings: the standard error of the spread is 0.5 %, and the bound is five of them.
    expect(spread(read({ whiteV: 0.03 }).values)).toBeGreaterThan(0.03 * 0.975);
    expect(spread(read({ whiteV: 0.03 }).values)).toBeLessThan(0.03 * 1.025);
  });

  it("lingering noise has the correlation of its time constant from reading to reading", () => {
    const { values } = read({ lingeringV: 0.02, lingeringTimeS: 0.448 });
    let product = 0;
    let square = 0;
    for (let index = 1; index < values.length; index++) {
      product += (values[index]! - 24) * (values[index - 1]! - 24);
      square += (values[index]! - 24) ** 2;
    }
    // exp(-0.1 s / 0.448 s) = 0.8; standard error sqrt((1 - 0.64) / 20,000) = 0.004.
    expect(product / square).toBeGreaterThan(0.78);
    expect(product / square).toBeLessThan(0.82);
  });

  it("wander grows with the square root of time", () => {
    const { values } = read({ wanderVPerSqrtS: 0.01 });
    const steps = values.slice(1).map((value, index) => value - values[index]!);
    expect(spread(steps)).toBeCloseTo(0.01 * Math.sqrt(0.1), 4);
  });

  it("lag answers a step with 1 - exp(-t / lag)", () => {
    const step = flat(10).fill(23, 500);
    const { values } = read({ lagS: 0.5 }, step);
    expect(values[55]).toBeCloseTo(23 + Math.exp(-1), 1);
    expect(values[65]).toBeCloseTo(23 + Math.exp(-3), 2);
  });

  it("the display rounds, gaps leave nothing, wild readings keep their share", () => {
    const { timesS, values } = read({ whiteV: 0.05, displayStepV: 0.1, gaps: [[100, 110]] });
    expect(values.every((value) => Math.abs(value * 10 - Math.round(value * 10)) < 1e-9)).toBe(true);
    expect([...timesS].some((timeS) => timeS >= 100 && timeS < 110)).toBe(false);
    const wild = read({ wildShare: 0.01, wildV: 5 }).values.filter((value) => value !== 24).length;
    // Binomial: 200 expected of 20,001, standard deviation 14.
    expect(Math.abs(wild - 200)).toBeLessThan(70);
  });
});
