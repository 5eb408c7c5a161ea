import { describe, expect, it } from "vitest";
import { type CellName, cellNames } from "./cells.js";
import { type DipShape, dipTrain } from "./dip-shape.js";
import { randomStream } from "./random.js";
import { simulateRecording } from "./simulate.js";

const EVERY_CELL = cellNames("W,A,F,R,S,Q,G,I,N,O");

describe("simulateRecording()", () => {
  it.each(EVERY_CELL)("gives cell %s ordered finite readings and switchings inside the recording", (cell: CellName) => {
    for (let seed = 1; seed <= 5; seed++) {
      const recording = simulateRecording(cell, { seed, depthV: 0.05, marks: "jittered" });
      const { timesS, voltagesV, onTimes, marks } = recording;
      expect(voltagesV.every(Number.isFinite)).toBe(true);
      expect(timesS.every((timeS, i) => i === 0 || timeS > timesS[i - 1])).toBe(true);
      expect(marks).toHaveLength(2 * onTimes.length);
      const edges = onTimes.flatMap(({ onS, offS }) => [onS, offS]);
      for (let k = 1; k < edges.length; k++) expect(edges[k]).toBeGreaterThan(edges[k - 1]);
      expect(edges[0]).toBeGreaterThan(timesS[0]);
    }
  });

  it("changes nothing but the dip when only the depth changes", () => {
    const empty = simulateRecording("S-F", { seed: 5, depthV: 0, marks: "none" });
    const dipped = simulateRecording("S-F", { seed: 5, depthV: 0.2, marks: "exact" });
    for (let i = 0; i < empty.timesS.length; i++) {
      expect(empty.voltagesV[i] - dipped.voltagesV[i]).toBeCloseTo(0.2 * empty.unitFall[i], 9);
    }
  });

  it("rounds to the display's digits in the Q cells", () => {
    const { voltagesV } = simulateRecording("Q30", { seed: 1, depthV: 0.1, marks: "none" });
    for (const voltageV of voltagesV) expect(Math.abs(voltageV * 10 - Math.round(voltageV * 10))).toBeLessThan(1e-9);
  });
});

describe("dipTrain()", () => {
  it.each([1, 2] as const)("follows the differential equations with a lag of order %d", (lagOrder) => {
    const shape: DipShape = {
      inrush: 0.8,
      settleS: 3,
      polarization: 0.4,
      polarizationTimeS: 20,
      lagS: 0.5,
      lagOrder,
    };
    const onTimes = [
      { onS: 1.03, offS: 6.2 },
      { onS: 9, offS: 14.01 },
    ];
    const timesS = Float64Array.from({ length: 20 }, (_, k) => k + 1);
    const exact = dipTrain(shape, onTimes, timesS);
    const stepped = integrate(shape, onTimes, timesS);
    for (let k = 0; k < timesS.length; k++) expect(Math.abs(exact[k] - stepped[k])).toBeLessThan(2e-3);
    expect(Math.max(...exact)).toBeGreaterThan(1.2);
  });
});

describe("randomStream()", () => {
  it("normal() has mean 0, variance 1 and kurtosis 3", () => {
    const { normal } = randomStream(1, "test");
    const draws = Array.from({ length: 100_000 }, normal);
    const moment = (power: number) => draws.reduce((sum, z) => sum + z ** power, 0) / draws.length;
    // Five standard deviations of each moment.
    expect(Math.abs(moment(1))).toBeLessThan(5 / Math.sqrt(1e5));
    expect(Math.abs(moment(2) - 1)).toBeLessThan(5 * Math.sqrt(2 / 1e5));
    expect(Math.abs(moment(4) - 3)).toBeLessThan(5 * Math.sqrt(96 / 1e5));
  });

  it("gives other numbers for another seed or purpose", () => {
    expect(randomStream(1, "a").uniform()).not.toBe(randomStream(2, "a").uniform());
    expect(randomStream(1, "a").uniform()).not.toBe(randomStream(1, "b").uniform());
  });
});

/** Euler steps of a tenth of a millisecond: the slow and obvious twin. */
function integrate(shape: DipShape, onTimes: readonly { onS: number; offS: number }[], timesS: Float64Array): number[] {
  const stepS = 1e-4;
  const natural = 1.4 / shape.lagS;
  const values: number[] = [];
  let polarized = 0;
  let shown = 0;
  let speed = 0;
  for (let k = 0; values.length < timesS.length; k++) {
    const timeS = k * stepS;
    if (timeS >= timesS[values.length]) values.push(shown);
    const on = onTimes.find(({ onS, offS }) => timeS >= onS && timeS < offS);
    const current = on === undefined ? 0 : 1 + shape.inrush * Math.exp(-(timeS - on.onS) / shape.settleS);
    polarized += (stepS * (shape.polarization * current - polarized)) / shape.polarizationTimeS;
    const fall = current + polarized;
    if (shape.lagOrder === 1) {
      shown += (stepS * (fall - shown)) / shape.lagS;
    } else {
      speed += stepS * (natural ** 2 * (fall - shown) - 1.4 * natural * speed);
      shown += stepS * speed;
    }
  }
  return values;
}
