import { describe, expect, it } from "vitest";
import { RelaxationProblem } from "../../../src/core/estimation/relaxation-problem.js";
import { randomGenerator } from "../../../src/core/statistics/random.js";

const OHMIC_OHM = 0.01;
const PAIR_OHM = 0.003;
const TAU_S = 4;
const levels = [
  { timeS: 5, currentA: 10 },
  { timeS: 25, currentA: 0 },
  { timeS: 40, currentA: 6 },
  { timeS: 60, currentA: 0 },
];
const closedOhm = (t: number) => OHMIC_OHM + PAIR_OHM * (1 - Math.exp(-t / TAU_S));

/** Readings of a resistor and one pair on a level that drifts, 2 mV of white noise at 10 Hz. */
function fitted(seed: number, { startS = 0, gain = 1, noiseV = 0.002 } = {}) {
  const random = randomGenerator(seed);
  const timesS = Float64Array.from({ length: 800 }, (_, i) => startS + i / 10);
  const voltagesV = timesS.map((t) => {
    let dropV = 0;
    levels.forEach(({ timeS, currentA }, k) => {
      const sinceS = t - startS - timeS;
      const changeA = currentA - (levels[k - 1]?.currentA ?? 0);
      if (sinceS >= 0) dropV += changeA * closedOhm(sinceS);
    });
    return gain * (24 + 0.0002 * (t - startS) - dropV + noiseV * random.normal());
  });
  const moved = levels.map(({ timeS, currentA }) => ({ timeS: startS + timeS, currentA }));
  return new RelaxationProblem({ timesS, voltagesV, levels: moved }, 0);
}

describe("RelaxationProblem", () => {
  it("refine() gives the parts back from readings without noise, and their sum at any time", () => {
    const fit = fitted(1, { noiseV: 1e-9 }).refine([2])!;
    expect(fit.ohmicOhm.value).toBeCloseTo(OHMIC_OHM, 8);
    expect(fit.pairs[0]!.resistanceOhm.value).toBeCloseTo(PAIR_OHM, 8);
    expect(fit.pairs[0]!.timeConstantS.value).toBeCloseTo(TAU_S, 4);
    for (const atS of [0, 0.5, 1, 4, 10, 30]) expect(fit.resistanceAt(atS).value).toBeCloseTo(closedOhm(atS), 8);
  });

  it("refine() states the scatter that its parts and sums have over many recordings", () => {
    const fits = Array.from({ length: 300 }, (_, k) => fitted(100 + k).refine([2])!);
    const scores = (of: (fit: (typeof fits)[number]) => { value: number; u: number }, truth: number) => {
      const z = fits.map((fit) => (of(fit).value - truth) / of(fit).u);
      return Math.sqrt(z.reduce((sum, one) => sum + one * one, 0) / z.length);
    };
    const rms = [
      scores(({ ohmicOhm }) => ohmicOhm, OHMIC_OHM),
      scores(({ pairs }) => pairs[0]!.resistanceOhm, PAIR_OHM),
      scores(({ pairs }) => pairs[0]!.timeConstantS, TAU_S),
      ...[0.5, 2, 4, 8].map((atS) => scores((fit) => fit.resistanceAt(atS), closedOhm(atS))),
    ];
    // Four standard deviations of the rms of 300 scores are 4 / sqrt(600) = 0.163; each fails by chance in 1 of 16,000.
    for (const one of rms) expect(Math.abs(one - 1)).toBeLessThan(0.163);
  });

  it("hangs neither on when the clock began nor on the unit of volts", () => {
    const plain = fitted(7);
    const moved = fitted(7, { startS: 4096 });
    const scaled = fitted(7, { gain: 1024 });
    const weights = (tauS: number) => Float64Array.of(1, 1 - Math.exp(-1 / tauS));
    for (const [other, gain] of [
      [moved, 1],
      [scaled, 1024],
    ] as const) {
      const [a, b] = [plain.refine([2])!, other.refine([2])!];
      expect(b.ohmicOhm.value / gain).toBeCloseTo(a.ohmicOhm.value, 8);
      expect(b.resistanceAt(3).u / gain).toBeCloseTo(a.resistanceAt(3).u, 8);
      expect(b.pairs[0]!.timeConstantS.u).toBeCloseTo(a.pairs[0]!.timeConstantS.u, 5);
      expect(b.misfit).toBe(a.misfit);
      const [gridA, gridB] = [plain.grid(), other.grid()];
      expect(gridB.bestTauS).toBeCloseTo(gridA.bestTauS, 6);
      expect([gridB.edge, gridB.open]).toEqual([gridA.edge, gridA.open]);
      expect(gridB.resistance(weights).value / gain).toBeCloseTo(gridA.resistance(weights).value, 8);
      expect(gridB.resistance(weights).u / gain).toBeCloseTo(gridA.resistance(weights).u, 8);
    }
  });

  it("grid() holds the closed form at one second within its uncertainty, and a time constant near the true one", () => {
    const { bestTauS, edge, open, resistance } = fitted(3).grid();
    const { value, u } = resistance((tauS) => Float64Array.of(1, 1 - Math.exp(-1 / tauS)));
    expect(Math.abs(value - closedOhm(1))).toBeLessThan(4 * u);
    // Forty steps over a factor of 1,600: 21 % from one to the next.
    expect(Math.abs(Math.log(bestTauS / TAU_S))).toBeLessThan(0.35);
    expect([edge, open]).toEqual([null, false]);
  });
});
