import { describe, expect, it } from "vitest";
import {
  depthBoundV,
  displayInformation,
  divideByNoise,
  knownTimeDetectable,
  onsetBoundsS,
  shapeFreeDepthBoundV,
  shapeFreeOnsetBoundsS,
} from "./bounds.js";
import type { CellName, CellSettings } from "./cells.js";
import { clairvoyantScores, scanMaximum } from "./clairvoyant.js";
import { rateInterval, standardNormalProbability, standardNormalQuantile } from "./distributions.js";
import { choleskyFactor, dot, forwardSolve, orthonormalBasis, ToeplitzSolver, withoutSpan } from "./linear.js";
import { NO_NOISE } from "./noise.js";
import { simulateRecording } from "./simulate.js";
import { denseCovariance, evenCovariance, whitenByTruth } from "./whitening.js";

const NO_DOUBT = { inrush: 0, logSettle: 0, polarization: 0, lagS: 0, edgeS: 0 };
const PLAIN: Partial<CellSettings> = {
  durationS: [120, 120],
  switchingCount: [1, 1],
  onS: 30,
  inrush: [0, 0],
  polarization: [0, 0],
  lagS: [0, 0],
  edgeJitterS: [0, 0],
  marginS: 40,
};

function recordingOf(cell: CellName, settings: Partial<CellSettings>, depthV = 0, seed = 1) {
  return simulateRecording(cell, { seed, depthV, marks: "exact", settings });
}

describe("bounds", () => {
  it("divideByNoise() gives sigma^2 (1/on + 1/off) for a plain dip on an unknown level in white noise", () => {
    const recording = recordingOf("W", PLAIN);
    const onCount = recording.unitFall.reduce((sum, fall) => sum + fall, 0);
    const offCount = recording.timesS.length - onCount;
    const expectedV = 0.03 * Math.sqrt(1 / onCount + 1 / offCount);
    expect(levelBoundV(recording) / expectedV).toBeCloseTo(1, 6);
  });

  it("divideByNoise() gives the information of a dip in AR(1) noise, known level, as the prediction errors do", () => {
    const noise = { ...NO_NOISE, colouredV: 0.03, colouredTimeS: 0.6 };
    const recording = recordingOf("A", { ...PLAIN, noise });
    const onCount = recording.unitFall.reduce((sum, fall) => sum + fall, 0);
    const phi = Math.exp(-0.1 / 0.6);
    // First reading in the dip surprises by 1, each later one by 1 - phi, the first after it by -phi.
    const information = (1 + (onCount - 1) * (1 - phi) ** 2 + phi ** 2) / (0.03 ** 2 * (1 - phi ** 2));
    const [fall] = divideByNoise(recording, [recording.unitFall]);
    expect(dot(fall, fall) / information).toBeCloseTo(1, 8);
  });

  it("onsetBoundsS() gives sqrt(2 lag sigma^2 / (rate A^2)) for one edge in white noise", () => {
    const recording = recordingOf("W", { ...PLAIN, lagS: [1, 1] }, 0.3);
    // The depth, the drift and the release are unknown too, which costs a little.
    const ratio = onsetBoundsS(recording)[0] / Math.sqrt((2 * 1 * 0.03 ** 2) / (10 * 0.3 ** 2));
    expect(ratio).toBeGreaterThan(1);
    expect(ratio).toBeLessThan(1.1);
  });

  it.each([
    ["W", 3, 1.36],
    ["A", 3, 4.6],
    ["F", 3, 5.07],
    ["R", 3, 5.08],
    ["W", 1, 2.39],
    ["A", 1, 8.1],
    ["F", 1, 8.24],
    ["R", 1, 8.27],
  ] as const)("depthBoundV() of cell %s with %d switchings agrees with an earlier study's %d mV", (cell, count, mV) => {
    const boundV = depthBoundV(recordingOf(cell, { switchingCount: [count, count] }));
    expect(Math.abs((1000 * boundV) / mV - 1)).toBeLessThan(0.012);
  });

  it("shapeFreeOnsetBoundsS() of one dip in white noise are the root of 3/2 larger where nobody knows the lag", () => {
    // Of a response 1 - exp(-t / lag) the information is a by an edge's time, a / 2 by the lag and a / 2 by both: integrals of
    // t^k exp(-2 t / lag). Onset and release share the lag: of a 2 a / 3 are left for the onset.
    const recording = recordingOf("W", { ...PLAIN, lagS: [1, 1] }, 0.3);
    const [bound] = shapeFreeOnsetBoundsS(recording, { ...NO_DOUBT, lagS: 100 });
    // The depth, the drift and readings a tenth of a second apart cost a little more, as above.
    expect(bound / onsetBoundsS(recording)[0] / Math.sqrt(1.5)).toBeGreaterThan(1);
    expect(bound / onsetBoundsS(recording)[0] / Math.sqrt(1.5)).toBeLessThan(1.1);
  });

  it("shapeFreeOnsetBoundsS() are the plain bounds without doubt", () => {
    const recording = simulateRecording("F", { seed: 3, depthV: 0.08, marks: "none" });
    const plain = onsetBoundsS(recording);
    shapeFreeOnsetBoundsS(recording, NO_DOUBT).forEach((bound, k) => {
      expect(bound / plain[k]).toBeCloseTo(1, 9);
    });
  });

  it("shapeFreeDepthBoundV() is the plain bound without doubt and grows with the doubt", () => {
    const recording = recordingOf("S-A", {}, 0.05);
    const known = NO_DOUBT;
    const plainV = depthBoundV(recording);
    expect(shapeFreeDepthBoundV(recording, known) / plainV).toBeCloseTo(1, 9);
    const some = shapeFreeDepthBoundV(recording, { ...known, inrush: 0.3, lagS: 0.1 });
    const more = shapeFreeDepthBoundV(recording, { ...known, inrush: 0.3, lagS: 0.1, edgeS: Number.POSITIVE_INFINITY });
    expect(some / plainV).toBeGreaterThan(1.01);
    expect(more).toBeGreaterThan(some);
  });

  it("depthBoundV() is the scatter of the clairvoyant's score", () => {
    const scores = Array.from(
      { length: 300 },
      (_, seed) => clairvoyantScores(recordingOf("S-F", {}, 0, seed + 1), false).known.score,
    );
    // Chi-square with 300 degrees of freedom: outside 0.84 .. 1.17 less than once in 100 honest runs.
    expect(dot(Float64Array.from(scores), Float64Array.from(scores)) / 300).toBeGreaterThan(0.8);
    expect(dot(Float64Array.from(scores), Float64Array.from(scores)) / 300).toBeLessThan(1.22);
  });

  it("clairvoyantScores() finds its maximum at the true time when the dip is deep", () => {
    const { scan, known } = clairvoyantScores(recordingOf("S-A", {}), true);
    const depthV = 40 / known.gainPerV;
    const best = scan.reduce((a, b) => (b.score + depthV * b.gainPerV > a.score + depthV * a.gainPerV ? b : a));
    expect(Math.abs(best.gainPerV / known.gainPerV - 1)).toBeLessThan(0.02);
    expect(scanMaximum({ scan, known })).toBeLessThan(6);
  });

  it("knownTimeDetectable() adds the two normal quantiles", () => {
    // NIST/SEMATECH e-Handbook 1.3.6.7.1: z(0.99) = 2.326, z(0.90) = 1.282, z(0.95) = 1.645.
    expect(knownTimeDetectable(0.01, 0.9)).toBeCloseTo(2.326 + 1.282, 2);
    expect(knownTimeDetectable(0.01, 0.95)).toBeCloseTo(2.326 + 1.645, 2);
  });
});

describe("whitenByTruth()", () => {
  it.each(["S-W", "S-A", "S-F", "I", "N", "G", "O", "F"] as const)(
    "divides as the dense covariance does in cell %s",
    (cell) => {
      const settings: Partial<CellSettings> = { durationS: [31, 31], rateHz: [6, 6], onS: 4, offS: 4, marginS: 3 };
      const recording = recordingOf(cell, settings);
      const { timesS, truth } = recording;
      const noisy = timesS.map((timeS, i) => Math.sin(timeS) + recording.unitFall[i]);
      const dense = denseCovariance(recording);
      const white = whitenByTruth(recording, [noisy])[0];
      const oracle = forwardSolve(choleskyFactor(dense), noisy);
      expect(truth.parts.whiteV).toBeGreaterThan(0);
      for (let i = 0; i < white.length; i++)
        expect(Math.abs(white[i] - oracle[i])).toBeLessThan(1e-7 * (1 + Math.abs(oracle[i])));
    },
  );

  it("describes the noise that is drawn: whitened readings have variance one and no correlation", () => {
    for (const cell of ["A", "F", "N", "S-F", "I"] as const) {
      let square = 0;
      let product = 0;
      let count = 0;
      for (let seed = 1; seed <= 8; seed++) {
        const settings: Partial<CellSettings> = { durationS: [100, 100], rateHz: [10, 10], marginS: 3 };
        const recording = recordingOf(cell, settings, 0, seed);
        const white = whitenByTruth(recording, [recording.voltagesV.map((v, i) => v - recording.driftV[i])])[0];
        for (let i = 1; i < white.length; i++) {
          square += white[i] ** 2;
          product += white[i] * white[i - 1];
          count++;
        }
      }
      // About 8,000 readings: standard deviations 0.016 and 0.011.
      expect(Math.abs(square / count - 1)).toBeLessThan(0.07);
      expect(Math.abs(product / count)).toBeLessThan(0.05);
    }
  });
});

describe("displayInformation()", () => {
  it("tends to 1 / (sigma^2 + quantum^2 / 12) when the noise is above the digit", () => {
    const expected = 1 / (0.2 ** 2 + 0.1 ** 2 / 12);
    expect(displayInformation(25.03, 0.2, 0.1) / expected).toBeCloseTo(1, 3);
  });

  it("vanishes in the middle of a digit and is 2 / (pi sigma^2) on its edge when the noise is small", () => {
    expect(displayInformation(25, 0.005, 0.1)).toBeLessThan(1e-10);
    // One bit of a level at the threshold keeps 2 / pi of the information.
    expect((displayInformation(25.05, 0.005, 0.1) * 0.005 ** 2 * Math.PI) / 2).toBeCloseTo(1, 6);
  });
});

describe("distributions", () => {
  it("standardNormalQuantile() inverts standardNormalProbability()", () => {
    for (const probability of [1e-12, 1e-4, 0.01, 0.3, 0.5, 0.9, 0.999]) {
      expect(standardNormalProbability(standardNormalQuantile(probability)) / probability).toBeCloseTo(1, 10);
    }
  });

  it("standardNormalProbability() gives the handbook's areas", () => {
    // NIST/SEMATECH e-Handbook 1.3.6.7.1: area from 0 to z is 0.34134 at 1, 0.47725 at 2, 0.49865 at 3.
    expect(standardNormalProbability(1) - 0.5).toBeCloseTo(0.34134, 5);
    expect(standardNormalProbability(2) - 0.5).toBeCloseTo(0.47725, 5);
    expect(standardNormalProbability(3) - 0.5).toBeCloseTo(0.49865, 5);
  });

  it("rateInterval() is exact at no success, where its upper end is 1 - (a/2)^(1/n)", () => {
    expect(rateInterval(0, 20).high).toBeCloseTo(1 - 0.025 ** (1 / 20), 9);
    expect(rateInterval(20, 20).low).toBeCloseTo(0.025 ** (1 / 20), 9);
  });
});

describe("ToeplitzSolver", () => {
  it("solves as the Cholesky factor does", () => {
    const recording = recordingOf("F", { durationS: [60, 60], rateHz: [5, 5], marginS: 3 });
    const column = recording.unitFall;
    const solution = new ToeplitzSolver(evenCovariance(recording, column.length)).solve(column);
    const half = forwardSolve(choleskyFactor(denseCovariance(recording)), column);
    expect(dot(column, solution) / dot(half, half)).toBeCloseTo(1, 8);
  });
});

function levelBoundV(recording: ReturnType<typeof recordingOf>): number {
  const level = new Float64Array(recording.timesS.length).fill(1);
  const [fall, whiteLevel] = divideByNoise(recording, [recording.unitFall, level]);
  const alone = withoutSpan(orthonormalBasis([whiteLevel]), fall);
  return 1 / Math.sqrt(dot(alone, alone));
}
